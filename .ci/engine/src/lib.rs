//! What a browser calls. A text goes in through a buffer that the host writes to, and one comes out through another.
//!
//! There is one session. The host: asks `buffer(length)` where to write the question, writes it, calls `ask()`, which tells the
//! status, and reads `reply_length()` bytes at `reply()`. The module imports one function, by which the host watches.

use std::cell::RefCell;
use std::ops::ControlFlow;

use lengthwise::Progress;
use lengthwise::session::Session;

#[derive(Default)]
struct Desk {
    session: Session,
    question: Vec<u8>,
    reply: String,
}

thread_local! {
    static DESK: RefCell<Desk> = RefCell::default();
}

#[link(wasm_import_module = "host")]
unsafe extern "C" {
    /// Told how a question comes along, with where the name of the stage is; other than 0 stops it.
    safe fn progress(stage: *const u8, length: usize, done: u32, of: u32) -> u32;
}

fn watch(now: Progress) -> ControlFlow<()> {
    let number = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    let stage = now.stage.name();
    match progress(stage.as_ptr(), stage.len(), number(now.done), number(now.of)) {
        0 => ControlFlow::Continue(()),
        _ => ControlFlow::Break(()),
    }
}

/// Where the question of so many bytes is to be written, in UTF-8.
#[unsafe(no_mangle)]
pub extern "C" fn buffer(length: usize) -> *mut u8 {
    DESK.with_borrow_mut(|desk| {
        desk.reply = String::new();
        desk.question = vec![0; length];
        desk.question.as_mut_ptr()
    })
}

/// Asks what was written, and tells the status.
#[unsafe(no_mangle)]
pub extern "C" fn ask() -> u32 {
    DESK.with_borrow_mut(|desk| {
        let question = std::mem::take(&mut desk.question);
        let reply = desk.session.ask(&String::from_utf8_lossy(&question), &mut watch);
        desk.reply = reply.text;
        reply.status as u32
    })
}

/// Where the reply is.
#[unsafe(no_mangle)]
pub extern "C" fn reply() -> *const u8 {
    DESK.with_borrow(|desk| desk.reply.as_ptr())
}

/// How many bytes it has.
#[unsafe(no_mangle)]
pub extern "C" fn reply_length() -> usize {
    DESK.with_borrow(|desk| desk.reply.len())
}
