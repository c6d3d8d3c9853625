//! Images of brushes in the file: each once, and told when it is lost.

use std::sync::Arc;

use brush::{
    Anchor, BrushSettings, Decal, GreyImage, KernelVersion, LeftOut, Path, Relief, Stroke,
    StrokeKind, TexturePoint, Tiling, Tip, Tooth,
};
use document::{Deposit, Document, History, Material, Shape, Step};
use glam::{DVec3, Vec2};
use layers::{BlendSpace, ChannelId};
use raster::Extent;
use rusqlite::Connection;
use store::{Access, Changes, Lost, Opened, Project};

use crate::content::assert_same;
use crate::documents::{full, recipe_step, with_material};
use crate::round_trip::{PAINTED, folder, reopened};

fn image(width: u32, height: u32, seed: u32) -> GreyImage {
    let values = (0..width * height).map(|n| (n * 2654 + seed) as u16).collect();
    GreyImage::new(Extent { width, height }, values).unwrap()
}

/// The document after a step whose brush has these images.
fn painted(document: &Document, of_tip: GreyImage, of_tooth: GreyImage) -> Document {
    let relief = Relief::Image(of_tooth, Tiling::Structured);
    let brush = BrushSettings {
        tip: Tip { image: Some(of_tip), ..Tip::ROUND },
        tooth: Some(Tooth { relief, ..Tooth::default() }),
        ..BrushSettings::default()
    };
    let stroke = Stroke {
        kernel: KernelVersion::CURRENT,
        kind: StrokeKind::Deposit,
        path: Path::Texture(vec![vec![TexturePoint::of(Vec2::ONE, 0.5)]]),
        brush,
        seed: 1,
        left_out: LeftOut::default(),
        symmetry: None,
        stencil: None,
    };
    let (deposit, shape) = (Deposit::Erase(vec![ChannelId(1)]), Shape::Stroke(stroke));
    let step = recipe_step(Step::Deposit { deposit, shape }, BlendSpace::Encoded);
    let mut material = Material::clone(&document.materials[0]);
    let recipe = material.recipe(PAINTED).then(step);
    material.recipes = material.recipes.insert(PAINTED, recipe);
    with_material(document, material)
}

/// The document after a decal.
fn with_decal(document: &Document, image: GreyImage) -> Document {
    let middle = Anchor { position: DVec3::new(0.1, 0.2, 0.3), normal: DVec3::Z };
    let (up, half, turn) = (DVec3::new(0.0, 1.0, 0.5), 0.25, -0.5);
    let left_out = LeftOut::new([surface::PartId(0)], []);
    let decal = Decal { image, middle, up, half, turn, opacity: 0.75, left_out };
    let (deposit, shape) = (Deposit::Erase(vec![ChannelId(1)]), Shape::Decal(decal));
    let step = recipe_step(Step::Deposit { deposit, shape }, BlendSpace::Encoded);
    let mut material = Material::clone(&document.materials[0]);
    let recipe = material.recipe(PAINTED).then(step);
    material.recipes = material.recipes.insert(PAINTED, recipe);
    with_material(document, material)
}

fn images_of(document: &Document) -> Vec<GreyImage> {
    let recipe = document.materials[0].recipe(PAINTED);
    let last = recipe.steps.last().map(|step| Arc::clone(&step.step)).unwrap();
    let Step::Deposit { shape: Shape::Stroke(stroke), .. } = &*last else { panic!("a stroke") };
    stroke.brush.images().cloned().collect()
}

fn count(path: &std::path::Path, kind: u8) -> i64 {
    let sql = format!("SELECT count(*) FROM object WHERE kind = {kind}");
    Connection::open(path).unwrap().query_row(&sql, [], |row| row.get(0)).unwrap()
}

const PIECE: u8 = 4;
const IMAGE: u8 = 6;

#[test]
fn a_decal_comes_back_with_its_image() {
    let folder = folder();
    let mut history = History::new(full(64));
    history.push(with_decal(history.present(), image(40, 20, 3)), "decal");
    let project = Project::create(&folder.path().join("a.scumble"), &history).unwrap();
    let Opened { project, history: back, damage, .. } = reopened(project);
    assert_eq!(damage, []);
    assert_same(&back, &history);
    let last = |history: &History| {
        let recipe = history.present().materials[0].recipe(PAINTED);
        recipe.steps.last().map(|step| Arc::clone(&step.step)).unwrap()
    };
    assert_eq!(last(&back), last(&history));
    assert_eq!(project.verify().unwrap(), []);
}

#[test]
fn images_come_back_and_stand_once_in_the_file() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = History::new(full(64));
    let (leaf, weave) = (image(30, 20, 5), image(700, 900, 6));
    history.push(painted(history.present(), leaf.clone(), weave.clone()), "paint");
    let mut project = Project::create(&path, &history).unwrap();
    let before = count(&path, IMAGE);
    history.push(painted(history.present(), leaf.clone(), weave.clone()), "paint");
    project.commit(&Changes::of_history(&history)).unwrap();
    let Opened { mut project, history: mut back, damage, .. } = reopened(project);
    assert_eq!(damage, []);
    assert_same(&back, &history);
    assert_eq!(images_of(back.present()), [leaf.clone(), weave.clone()]);
    // Those that were read are known too.
    back.push(painted(back.present(), weave, leaf), "paint");
    project.commit(&Changes::of_history(&back)).unwrap();
    assert_eq!(count(&path, IMAGE), before);
    assert_eq!(project.verify().unwrap(), []);
}

#[test]
fn what_nothing_names_is_taken_out_and_images_of_strokes_are_not() {
    let folder = folder();
    let path = folder.path().join("a.scumble");
    let mut history = History::new(full(64));
    history.push(painted(history.present(), image(30, 20, 5), image(70, 90, 6)), "paint");
    history.push(with_decal(history.present(), image(40, 20, 3)), "decal");
    let mut project = Project::create(&path, &history).unwrap();
    let before = count(&path, IMAGE);
    project.collect_garbage(0).unwrap();
    assert_eq!(count(&path, IMAGE), before);
    let Opened { project, damage, .. } = reopened(project);
    assert_eq!((damage, project.verify().unwrap()), (vec![], vec![]));
}

#[test]
fn an_image_that_is_lost_is_told_once_and_its_strokes_are_not_painted_again() {
    for kind in [IMAGE, PIECE] {
        let folder = folder();
        let path = folder.path().join("a.scumble");
        let mut history = History::new(full(64));
        let project = Project::create(&path, &history).unwrap();
        project.close().unwrap();
        let Opened { mut project, history: back, .. } =
            Project::open(&path, Access::ReadWrite).unwrap();
        history = back;
        for seed in 0..3 {
            history.push(painted(history.present(), image(9, 9, seed), image(8, 8, 7)), "paint");
        }
        project.commit(&Changes::of_history(&history)).unwrap();
        project.close().unwrap();
        // The newest of the kind belongs to the tip of the last stroke, or the tooth of the first.
        let sql = format!(
            "UPDATE object SET bytes = zeroblob(9) WHERE id = \
             (SELECT max(id) FROM object WHERE kind = {kind})"
        );
        assert_eq!(Connection::open(&path).unwrap().execute(&sql, []).unwrap(), 1);
        let opened = Project::open(&path, Access::ReadWrite).unwrap();
        let lost: Vec<_> = opened.damage.iter().map(|damage| damage.lost.clone()).collect();
        assert_eq!(lost, [Lost::BrushImage], "kind {kind}");
        let told = opened.damage[0].to_string();
        assert!(told.contains("layer \"painted\", an image of a brush is lost"), "{told}");
        let recipe = opened.history.present().materials[0].recipe(PAINTED);
        assert!(!recipe.can_replay());
    }
}
