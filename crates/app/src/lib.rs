//! The window and its panels.
