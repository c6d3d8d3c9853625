//! What the window asks beside the pen: every thumbnail of a deep stack, and the values under the pointer.

use std::error::Error;
use std::time::Instant;

use document::{MaskOwner, MaterialId};
use editor::{Editor, Settings, ThumbnailKey, ThumbnailOf, thumbnail};
use layers::{ChannelId, LayerId};

use crate::figure;
use crate::scene::Scene;

const MATERIAL: MaterialId = MaterialId(0);
/// As the layer table shows them.
const EDGE: u32 = 96;

/// Prints what thumbnails and values cost in a scene.
pub(crate) fn looks(scene: &Scene, layers: u32) -> Result<(), Box<dyn Error>> {
    let mut editor = scene.open(Settings { memory_bytes: 16 << 30, ..Settings::default() })?;
    let all: Vec<ThumbnailOf> = (0..layers).flat_map(columns).collect();
    let started = Instant::now();
    made_in_background(&editor, all.clone())?;
    figure(&format!("thumbnails, {layers} layers x 4"), millis(started), "ms");
    let started = Instant::now();
    made_in_background(&editor, vec![all[0]])?;
    figure("thumbnail of a colour cell", millis(started), "ms");
    let channel = ThumbnailOf::Channel { material: MATERIAL, channel: ChannelId::BASE_COLOUR };
    let started = Instant::now();
    made_in_background(&editor, vec![channel])?;
    figure(&format!("thumbnail of a channel, {layers} layers"), millis(started), "ms");
    let started = Instant::now();
    for of in &all {
        std::hint::black_box(ThumbnailKey::of(editor.document(), of)?);
    }
    figure(&format!("thumbnail keys, {layers} layers x 4"), millis(started), "ms");
    values(&mut editor, layers)
}

fn values(editor: &mut Editor, layers: u32) -> Result<(), Box<dyn Error>> {
    const COUNT: u32 = 2000;
    let edge = editor.document().material(MATERIAL)?.size.edge();
    let started = Instant::now();
    for number in 0..COUNT {
        let (x, y) = (number * 1_237 % edge, number * 3_571 % edge);
        std::hint::black_box(editor.texel_values(MATERIAL, x, y)?);
    }
    let each = millis(started) / f64::from(COUNT);
    figure(&format!("values of a texel, {layers} layers"), each, "ms");
    Ok(())
}

/// The columns of the layer table: a cell for each channel, and the mask.
fn columns(layer: u32) -> [ThumbnailOf; 4] {
    let layer = LayerId(layer);
    let cell = |channel| ThumbnailOf::Cell { material: MATERIAL, layer, channel };
    [
        cell(ChannelId::BASE_COLOUR),
        cell(ChannelId::ROUGHNESS),
        cell(ChannelId::METALNESS),
        ThumbnailOf::Mask { material: MATERIAL, layer, owner: MaskOwner::Layer },
    ]
}

fn made_in_background(editor: &Editor, all: Vec<ThumbnailOf>) -> Result<(), Box<dyn Error>> {
    let document = editor.document().clone();
    let job = editor.start(move |observer| {
        for of in &all {
            std::hint::black_box(thumbnail(&document, of, EDGE, observer)?);
        }
        Ok(())
    });
    job.wait()?;
    Ok(())
}

fn millis(since: Instant) -> f64 {
    since.elapsed().as_secs_f64() * 1e3
}
