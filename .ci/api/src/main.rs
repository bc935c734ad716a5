//! Prints the public interface of a library, a line an item, from the JSON that rustdoc wrote about it.

use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let file = std::env::args().nth(1).ok_or("give the file that rustdoc wrote")?;
    // What is derived or follows for every type says nothing that the type itself does not.
    let api = public_api::Builder::from_rustdoc_json(file)
        .omit_blanket_impls(true)
        .omit_auto_trait_impls(true)
        .omit_auto_derived_impls(true)
        .build()?;
    print!("{api}");
    Ok(())
}
