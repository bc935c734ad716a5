//! What each error of a file means, at length.

use super::text::layout::Page;
use super::visible::visible;

/// For each code a heading, and below it what it means.
const ERRORS: &str = include_str!("errors.md");

/// Each code with what it means.
fn errors() -> impl Iterator<Item = (&'static str, &'static str)> {
    ERRORS.split("\n## ").skip(1).filter_map(|part| part.split_once('\n'))
}

/// What an error means, laid out; where no code is given, all codes.
pub(super) fn of(code: Option<&str>) -> Result<impl FnOnce(&mut Page), String> {
    let found = match code {
        None => None,
        Some(code) => Some(errors().find(|&(name, _)| name == code).ok_or_else(|| {
            format!(
                "error: no error has the code {}\n  help: it stands in brackets behind the error; `lengthwise explain` lists all\n",
                visible(code)
            )
        })?),
    };
    Ok(move |page: &mut Page| match found {
        Some((name, text)) => render(page, name, text),
        None => {
            let names: Vec<&str> = errors().map(|(name, _)| name).collect();
            page.paragraph(0, 0, &names.join(", "));
        }
    })
}

fn render(page: &mut Page, name: &str, text: &str) {
    page.heading(name);
    let mut is_code = false;
    for line in text.trim_end().lines() {
        if line.starts_with("```") {
            is_code = !is_code;
        } else {
            page.paragraph(if is_code { 4 } else { 0 }, 0, line);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::terminal::Terminal;

    /// The variants of an enum in kebab case, from its source, so that none is forgotten.
    fn codes(source: &str, name: &str) -> Vec<String> {
        let start = source.find(&format!("pub enum {name} {{")).expect("the enum is there");
        let end = start + source[start..].find("\n}\n").expect("the enum ends");
        let variants = source[start..end].lines().filter_map(|line| line.strip_prefix("    "));
        let mut codes: Vec<String> = Vec::new();
        for variant in variants.filter(|line| line.starts_with(|c: char| c.is_ascii_uppercase())) {
            let variant = variant.split(|c: char| !c.is_alphanumeric()).next().unwrap_or_default();
            let mut code = String::new();
            for c in variant.chars() {
                if c.is_ascii_uppercase() && !code.is_empty() {
                    code.push('-');
                }
                code.push(c.to_ascii_lowercase());
            }
            codes.push(code);
        }
        codes
    }

    #[test]
    fn every_error_is_explained_and_nothing_else() {
        let mut all = codes(include_str!("../../input/error.rs"), "InputFault");
        all.extend(codes(include_str!("../../model/fault/error.rs"), "ModelFault"));
        all.retain(|code| code != "model");
        all.sort();
        let mut explained: Vec<&str> = errors().map(|(name, _)| name).collect();
        explained.sort();
        assert_eq!(explained, all);
        for code in explained {
            let mut page = Page::new(Terminal { width: 80, shows_colour: false });
            of(Some(code)).unwrap_or_else(|error| panic!("{error}"))(&mut page);
            assert!(page.into_text().lines().count() >= 3, "{code}");
        }
        assert!(of(Some("no-such-code")).is_err());
    }
}
