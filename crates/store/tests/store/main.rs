//! What holds for project files, seen from outside of the crate.
#![cfg(test)]

mod access;
mod asking;
mod content;
mod damage;
mod documents;
mod histories;
mod keeping;
mod killed;
mod reference;
mod round_trip;
