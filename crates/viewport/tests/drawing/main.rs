//! Pictures drawn off-screen, on whatever adapter there is. Without one these tests fail: on Debian,
//! mesa-vulkan-drivers has one that needs no graphics card.
#![cfg(test)]

mod channels;
mod faults;
mod light;
mod meshes;
mod parts;
mod rings;
mod selected;
mod stage;
mod uploads;
