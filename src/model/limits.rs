//! The limits of reading files and drafts.

/// The limits of reading files. What goes beyond one of them is refused, and the refusal says which.
///
/// # Examples
///
/// ```
/// let mut limits = lengthwise::InputLimits::default();
/// limits.toml_bytes = 20;
/// let input = lengthwise::Input::toml("format = 1\n[installation]\n").within(limits);
/// let errors = lengthwise::read_installation(input).unwrap_err();
/// assert_eq!(errors.to_string(), "the file has more than 20 bytes");
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct InputLimits {
    /// The largest TOML file, in bytes: 16 MiB, which no person writes. The parser takes some 40 times as much memory.
    pub toml_bytes: u64,
    /// The largest JSON file, in bytes: 64 MiB.
    pub json_bytes: u64,
    /// How many tables and lists may stand inside each other: 64; the format itself needs six.
    pub depth: usize,
    /// How many values and keys a JSON file may hold: 11,000,000, some 200,000 lengths. There a list counts as two and a
    /// table as four; in TOML a value counts as two and a table as 16. So much more memory do the parsers take for them.
    pub values: usize,
    /// How many errors are listed one by one: 1,000; the rest are counted. A file of the largest size can hold some
    /// ten million, and a list of them would take more memory than the file by two orders of magnitude.
    pub errors: usize,
    /// How much is searched for known names near to those that are not known, in pairs of characters that are compared:
    /// 100,000,000. After that no name is proposed any more.
    pub nearest_name: usize,
    /// How many passages are looked at for the metres of stops that don't say them: 20,000,000. After that such a stop
    /// is an error.
    pub passages_searched: usize,
}

impl Default for InputLimits {
    fn default() -> Self {
        InputLimits {
            toml_bytes: 16 << 20,
            json_bytes: 64 << 20,
            depth: 64,
            values: 11_000_000,
            errors: 1_000,
            nearest_name: 100_000_000,
            passages_searched: 20_000_000,
        }
    }
}

/// Multiplies budgets; of each at least one stays, and where one is none it stays none.
pub(crate) fn scale<'b>(budgets: impl IntoIterator<Item = &'b mut usize>, factor: f64) {
    for budget in budgets.into_iter().filter(|budget| **budget > 0) {
        // A product beyond the largest number is that number.
        *budget = ((*budget as f64 * factor) as usize).max(1);
    }
}
