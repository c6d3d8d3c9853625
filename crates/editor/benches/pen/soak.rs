//! Very many small strokes: memory stays within the ledger's budget, and the last are as quick as the
//! first.

use std::error::Error;
use std::time::Instant;

use editor::Settings;
use glam::DVec2;
use raster::Unobserved;

use crate::scene::{Scene, texels};
use crate::strokes::{VIEW_PX, display, sample, start, target};

/// Strokes that are timed together.
const BLOCK: usize = 500;

pub(crate) fn soak(scene: &Scene, strokes: usize, budget: usize) -> Result<(), Box<dyn Error>> {
    let mut editor = scene.open(Settings { memory_bytes: budget, ..Settings::default() })?;
    display(&mut editor)?;
    let radius = texels(12.0, scene.size);
    let mut blocks = Vec::new();
    let mut most = 0;
    let mut started = Instant::now();
    for number in 0..strokes {
        let turn = number as f64 * 2.399_963;
        let out = 0.4 * ((number % 997) as f64 / 997.0).sqrt();
        let at = DVec2::new(0.5 + out * turn.cos(), 0.5 + out * turn.sin()) * VIEW_PX;
        let tone = (number * 7919 % 65_536) as u16;
        editor.begin_stroke(&target(scene.painted(), tone), &start(radius), &Unobserved)?;
        for step in 0..3_u32 {
            let moved = DVec2::new(f64::from(step) * 20.0, f64::from(step * step) * 3.0);
            editor.extend_stroke(&[sample(at + moved, step as usize)])?;
            editor.stroke_frame()?;
        }
        editor.end_stroke()?;
        display(&mut editor)?;
        editor.settle()?;
        most = most.max(editor.ledger().bytes());
        if (number + 1) % BLOCK == 0 {
            blocks.push(started.elapsed().as_secs_f64());
            started = Instant::now();
        }
    }
    editor.settle_and_wait()?;
    report(&blocks, most, budget);
    println!("{strokes} strokes, {} steps of undo kept", editor.history().entries().1);
    for holding in editor.ledger().holdings {
        println!("  {:<24} {:>8.1} MiB", holding.what, holding.bytes as f64 / f64::from(1 << 20));
    }
    Ok(())
}

/// The first and the last fifth of the blocks are compared by their medians, the very first block apart.
fn report(blocks: &[f64], most: usize, budget: usize) {
    let fifth = (blocks.len() / 5).max(1);
    let median = |of: &[f64]| crate::strokes::percentile(of, 0.5);
    let (first, last) = (median(&blocks[1..=fifth]), median(&blocks[blocks.len() - fifth..]));
    let mebibytes = |bytes: usize| bytes as f64 / f64::from(1 << 20);
    println!("@\tsoak, strokes a second\t{:.0}\t/s", BLOCK as f64 / last);
    println!("@\tsoak, speed drift\t{:.1}\t%", (last / first - 1.0) * 100.0);
    println!("@\tsoak, memory counted\t{:.1}\tMiB", mebibytes(most));
    println!("@\tsoak, memory budget\t{:.1}\tMiB", mebibytes(budget));
    if let Some(resident) = resident_bytes() {
        println!("@\tsoak, memory of the process\t{:.1}\tMiB", mebibytes(resident));
    }
}

/// What the system says this process takes; only where it says so in a file.
fn resident_bytes() -> Option<usize> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<usize>().ok()? << 10)
}
