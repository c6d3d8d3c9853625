//! `scumble show`: a picture of a model, drawn off-screen by the renderer of the model view.

use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

use app::tile_pixels;
use document::{Edit, MaterialId};
use editor::{Editor, Settings};
use exchange::write_picture;
use glam::{DVec2, DVec3};
use raster::{Bitmap, Unobserved};
use store::Watch;
use viewport::environment::{BuiltIn, Environment, Prefiltered};
use viewport::navigation::{AxisView, along, first_look, framed};
use viewport::{
    Gpu, Lighting, MeshBuffers, ModelView, Renderer, Scene, Shown, Target, TilePixels,
    ViewportError,
};

use crate::apply::{DEFAULT_SIZE, paint, read_list, texture_size};
use crate::arguments::{Show, Side, View};
use crate::failure::Failure;
use crate::progress::Bar;
use crate::project;

/// Angle of view, from bottom to top: that of a 50 mm lens, roughly.
const FOV_Y_RAD: f64 = 0.47;

/// sRGB-encoded: the grey of a neutral surround.
const BACKGROUND: [f32; 3] = [0x45 as f32 / 255.0; 3];

/// Tiles that go up to the adapter at once.
const TILES_AT_ONCE: usize = 512;

pub(crate) fn run(command: &Show) -> Result<(), Failure> {
    let (folder, name) = place(&command.out)?;
    // Smoothed even where the processor draws: a picture may take a second.
    let gpu = Gpu::headless()?.with_samples(4);
    let mut target = Target::new(&gpu, command.size)?;
    let (mut editor, watch) = painted(command)?;
    let scene = uploaded(&gpu, &mut editor)?;
    let mut renderer = Renderer::new(&gpu);
    let studio = Environment::built_in(BuiltIn::Studio);
    let light = Prefiltered::new(&studio, &Bar::new("preparing the light"));
    renderer.set_environment(&gpu, &light.map_err(ViewportError::from)?);
    let view = model_view(command, &scene_box(&editor)?);
    renderer.draw_model(&gpu, &scene, &view, &mut target);
    project::note(&watch.map(|watch| watch.damage(0)).unwrap_or_default());
    let picture = target.read(&gpu)?;
    if let Some(fault) = gpu.take_fault() {
        return Err(ViewportError::Readback(fault).into());
    }
    let wide: Vec<u16> = picture.values().iter().map(|&value| u16::from(value) * 257).collect();
    let Some(picture) = Bitmap::new(picture.extent(), 3, wide) else { return Ok(()) };
    println!("{}", write_picture(folder, name, &picture)?.display());
    Ok(())
}

pub(crate) fn place(out: &Path) -> Result<(&Path, &str), Failure> {
    let no_file = || Failure::Usage(format!("--out {}: give a file to write", out.display()));
    let name = out.file_name().and_then(|name| name.to_str()).ok_or_else(no_file)?;
    let folder = out.parent().filter(|folder| !folder.as_os_str().is_empty());
    Ok((folder.unwrap_or(Path::new(".")), name))
}

/// What is to be seen, and what tells of damage where that is a project.
fn painted(command: &Show) -> Result<(Editor, Option<Watch>), Failure> {
    let list = command.edits.as_deref().map(read_list).transpose()?;
    if project::is_project(&command.model) {
        let edits = list.as_ref().zip(command.edits.as_deref());
        let (editor, watch) = project::editor_for_a_look(&command.model, edits)?;
        return Ok((editor, Some(watch)));
    }
    let imported = exchange::read_model(&command.model, &Bar::new("reading the model"))?;
    for note in &imported.notes {
        eprintln!("note: {note}");
    }
    let model = Arc::new(imported.model);
    let mut editor = Editor::new(Settings::default())?;
    if let (Some(list), Some(path)) = (&list, &command.edits) {
        paint(&mut editor, list, &model, None).map_err(|error| Failure::in_list(error, path))?;
    } else {
        let size = texture_size(DEFAULT_SIZE)?;
        editor.apply(&Edit::Import { model, size }, &Bar::new("importing"))?;
    }
    Ok((editor, None))
}

fn uploaded(gpu: &Gpu, editor: &mut Editor) -> Result<Scene, Failure> {
    let surface = editor.surface(&Bar::new("preparing the surface"))?;
    let mesh = MeshBuffers::build(&surface, &Bar::new("preparing to draw"))?;
    let mut scene = Scene::new(gpu);
    scene.set_mesh(gpu, &mesh)?;
    for material in editor.document().materials.clone() {
        let edge = scene.set_material(gpu, material.id.slot(), material.size);
        if edge < material.size.edge() {
            let (name, size) = (&material.name, material.size.edge());
            eprintln!(
                "note: {name} is shown at {edge} texels instead of {size}: {gpu} holds no more"
            );
        }
        let shown = Mutex::new((&mut scene, Vec::new()));
        editor.display(material.id, &|at, tile| {
            let pixels = tile_pixels(at, tile);
            let mut held = shown.lock().unwrap_or_else(PoisonError::into_inner);
            held.1.push(pixels);
            if held.1.len() >= TILES_AT_ONCE {
                upload(gpu, &mut held, material.id);
            }
        })?;
        let mut held = shown.into_inner().unwrap_or_else(PoisonError::into_inner);
        upload(gpu, &mut held, material.id);
    }
    Ok(scene)
}

fn upload(gpu: &Gpu, (scene, tiles): &mut (&mut Scene, Vec<TilePixels>), material: MaterialId) {
    scene.upload_tiles(gpu, material.slot(), tiles);
    tiles.clear();
}

fn scene_box(editor: &Editor) -> Result<[DVec3; 2], Failure> {
    let (low, high) = editor.surface(&Unobserved)?.mesh().bounds();
    Ok([low.as_dvec3(), high.as_dvec3()])
}

fn model_view(command: &Show, [low, high]: &[DVec3; 2]) -> ModelView {
    let viewport_px = DVec2::from(command.size.map(f64::from));
    let camera = first_look(*low, *high, FOV_Y_RAD, viewport_px);
    let axis = match command.from {
        Side::Corner => None,
        Side::Front => Some(AxisView::Front),
        Side::Back => Some(AxisView::Back),
        Side::Left => Some(AxisView::Left),
        Side::Right => Some(AxisView::Right),
        Side::Top => Some(AxisView::Top),
        Side::Bottom => Some(AxisView::Bottom),
    };
    let camera = axis.map_or(camera, |axis| framed(&along(&camera, axis), *low, *high));
    let shown = match command.view {
        View::Lit | View::Wire => Shown::Lit,
        View::Colour => Shown::Colour,
        View::Roughness => Shown::Roughness,
        View::Metal => Shown::Metalness,
        View::Checker => Shown::Checker,
        View::Islands => Shown::Islands,
    };
    ModelView {
        camera,
        mirrored: false,
        shown,
        wire: command.view == View::Wire,
        lighting: Lighting::WORKING,
        hidden_parts: Vec::new(),
        footprint: None,
        background: BACKGROUND,
    }
}
