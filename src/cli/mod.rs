//! The `lengthwise` command.
