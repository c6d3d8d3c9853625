//! What must not stop it.

use raster::TextureSize;
use surface::MaterialSlot;
use viewport::{Gpu, Shown, Target, TilePixels, ViewportError};

use crate::stage::{MATERIAL, Stage, facing, laid_flat, quads, square};

#[test]
fn a_target_without_size_is_passed_over_and_comes_back() {
    let mut stage = Stage::with_mesh(4, quads(&[(square(0.0), 0)]));
    let mut target = Target::new(&stage.gpu, [0, 40]).unwrap();
    let view = facing(Shown::Lit, 40);
    stage.renderer.draw_model(&stage.gpu, &stage.scene, &view, &mut target);
    stage.renderer.draw_flat(&stage.gpu, &stage.scene, &laid_flat(Shown::Lit, 40), &mut target);
    assert!(target.view().is_none() && target.size() == [0, 0] && target.bytes() == 0);
    assert!(target.read(&stage.gpu).unwrap().values().is_empty());
    assert!(target.resize(&stage.gpu, [40, 40]).unwrap());
    assert!(!target.resize(&stage.gpu, [40, 40]).unwrap());
    stage.renderer.draw_model(&stage.gpu, &stage.scene, &view, &mut target);
    assert_eq!(target.read(&stage.gpu).unwrap().values().len(), 40 * 40 * 3);
    assert!(target.resize(&stage.gpu, [0, 0]).unwrap());
    assert_eq!(stage.gpu.take_fault(), None);
}

#[test]
fn a_picture_beyond_the_limit_is_refused_in_one_line() {
    let stage = Stage::new(1);
    let most = stage.gpu.largest_texture();
    let refused = Target::new(&stage.gpu, [most + 1, 10]).unwrap_err();
    assert!(matches!(refused, ViewportError::PictureTooLarge { .. }));
    assert!(refused.to_string().contains(&most.to_string()));
}

#[test]
fn an_empty_scene_shows_the_background() {
    let mut stage = Stage::new(1);
    let mut view = facing(Shown::Lit, 16);
    view.wire = true;
    assert!(stage.model(&view).values().chunks(3).all(|texel| texel == [0, 255, 0]));
    stage.flat(&laid_flat(Shown::Islands, 16));
}

#[test]
fn tiles_of_a_material_that_is_not_there_go_nowhere() {
    let mut stage = Stage::new(1);
    let tile = |x| TilePixels::new(raster::TileAt { x, y: 0 });
    assert_eq!(stage.scene.upload_tiles(&stage.gpu, MaterialSlot(7), &[tile(0)]), 0);
    stage.scene.set_material(&stage.gpu, MATERIAL, TextureSize::new(64).unwrap());
    assert_eq!(stage.scene.upload_tiles(&stage.gpu, MATERIAL, &[tile(0), tile(u32::MAX)]), 0);
}

#[test]
fn a_camera_in_the_middle_of_the_model_or_at_its_target_draws_something() {
    let mut stage = Stage::with_mesh(1, quads(&[(square(0.0), 0)]));
    let mut view = facing(Shown::Lit, 16);
    view.wire = true;
    view.camera.projection = brush::Projection::Perspective { fov_y_rad: 1.0 };
    for eye in [glam::DVec3::ZERO, glam::DVec3::new(0.1, 0.0, 1e-9), view.camera.target] {
        view.camera.eye = eye;
        stage.model(&view);
    }
}

#[test]
fn an_adapter_says_what_it_is() {
    let gpu = Gpu::headless().expect("these tests need a graphics adapter");
    assert!(!gpu.name().is_empty() && gpu.largest_texture() >= 8192);
    assert!(!gpu.is_lost());
    assert_eq!(gpu.samples() == 1, gpu.is_cpu());
}
