//! What holds for project files, seen from outside of the crate.
#![cfg(test)]

mod access;
mod asking;
mod brush_images;
mod chance;
mod content;
mod damage;
mod disk;
mod documents;
mod failing;
mod full_disk;
mod histories;
mod keeping;
mod killed;
mod paging;
mod power_loss;
mod reference;
mod round_trip;
mod script;
mod spoiled;
mod steps;
