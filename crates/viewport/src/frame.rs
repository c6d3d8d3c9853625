//! What every pass of a picture is told: `Frame` of `shaders/frame.wgsl`, number by number.

use brush::{Camera, Projection};
use glam::{DMat4, DVec3, DVec4, Vec3};
use raster::decode_srgb;

use crate::navigation::depth_range;
use crate::{FlatPicture, Footprint, KeyLight, Lighting, ModelView, Shown, ToneMapping};

/// Numbers of a frame.
pub(crate) const FRAME_FLOATS: usize = 4 * (8 + 10 + 9);

/// A frame in the making.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Frame {
    pub(crate) clip_from_model: DMat4,
    pub(crate) light_from_model: DMat4,
    pub(crate) eye: DVec4,
    pub(crate) key: [f32; 4],
    pub(crate) key_tint: [f32; 4],
    pub(crate) ambient: [f32; 4],
    pub(crate) background: [f32; 4],
    pub(crate) ring: [f32; 4],
    pub(crate) ring_kind: [f32; 4],
    pub(crate) picture: [f32; 4],
    pub(crate) flat_view: [f32; 4],
    pub(crate) units: [f32; 4],
    pub(crate) sh: [[f32; 4]; 9],
}

/// What lies outside of the view and its picture.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Surroundings {
    pub(crate) origin: DVec3,
    pub(crate) radius: f64,
    pub(crate) size: [u32; 2],
    pub(crate) shadow_edge: u32,
    pub(crate) environment_levels: u32,
    pub(crate) sh: [[f32; 4]; 9],
}

impl Frame {
    pub(crate) fn of_model(view: &ModelView, around: &Surroundings) -> Self {
        let Surroundings { origin, radius, .. } = *around;
        let camera = &view.camera;
        let (right, up, forward) = axes(camera);
        let (near, far) = depth_range(camera, origin, radius);
        let eye = camera.eye - origin;
        let mut clip = projection(camera, near, far)
            * DMat4::from_mat3(glam::DMat3::from_cols(right, up, -forward).transpose())
            * DMat4::from_translation(-eye);
        if view.mirrored {
            clip = DMat4::from_scale(DVec3::new(-1.0, 1.0, 1.0)) * clip;
        }
        let is_parallel = matches!(camera.projection, Projection::Orthographic { .. });
        let Lighting { key, environment_strength, environment_turn_rad, exposure_ev, tone } =
            view.lighting;
        let direction = light_direction(&key);
        let mut frame = Self::new(around, view.background, view.shown);
        frame.clip_from_model = clip;
        frame.light_from_model = light_projection(direction, radius);
        frame.eye = if is_parallel { (-forward).extend(0.0) } else { eye.extend(1.0) };
        frame.key = vec4(direction.as_vec3(), key.strength);
        frame.key_tint = vec4(Vec3::from(key.tint), key.radius_rad.clamp(0.0, 1.0));
        let levels = around.environment_levels as f32;
        frame.ambient = [environment_strength, environment_turn_rad, levels, exposure_ev];
        frame.background[3] = f32::from(tone == ToneMapping::Linear);
        frame.picture[3] = if view.mirrored { -1.0 } else { 1.0 };
        frame.units = [radius as f32, camera.units_per_px(1.0) as f32, 0.0, 0.0];
        frame.put_ring(view.footprint.as_ref(), origin);
        frame
    }

    pub(crate) fn of_texture(picture: &FlatPicture, around: &Surroundings) -> Self {
        let mut frame = Self::new(around, picture.background, picture.shown);
        let camera = &picture.camera;
        frame.flat_view[0] = camera.top_left.x as f32;
        frame.flat_view[1] = camera.top_left.y as f32;
        frame.flat_view[2] = camera.uv_per_px as f32;
        frame.put_ring(picture.footprint.as_ref(), around.origin);
        frame
    }

    fn new(around: &Surroundings, background: [f32; 3], shown: Shown) -> Self {
        let [width, height] = around.size.map(|px| px as f32);
        Self {
            clip_from_model: DMat4::IDENTITY,
            light_from_model: DMat4::IDENTITY,
            eye: DVec4::Z,
            key: [0.0; 4],
            key_tint: [0.0; 4],
            ambient: [0.0; 4],
            background: vec4(Vec3::from(background.map(decode_srgb)), 0.0),
            ring: [0.0; 4],
            ring_kind: [0.0; 4],
            picture: [width, height, shown_number(shown), 1.0],
            flat_view: [0.0, 0.0, 1.0, 1.0 / around.shadow_edge as f32],
            units: [1.0; 4],
            sh: around.sh,
        }
    }

    fn put_ring(&mut self, footprint: Option<&Footprint>, origin: DVec3) {
        match footprint {
            None => {}
            Some(Footprint::Surface { centre, radius, hardness }) => {
                self.ring = vec4((*centre - origin).as_vec3(), *radius as f32);
                self.ring_kind = [1.0, *hardness, 0.0, 0.0];
            }
            Some(Footprint::Texture { material, centre, radius, hardness }) => {
                self.ring = [centre.x as f32, centre.y as f32, 0.0, *radius as f32];
                self.ring_kind = [2.0, *hardness, material.0 as f32, 0.0];
            }
        }
    }

    /// As the shaders read it.
    pub(crate) fn floats(&self) -> [f32; FRAME_FLOATS] {
        let mut floats = [0.0; FRAME_FLOATS];
        let columns = |matrix: &DMat4| matrix.to_cols_array().map(|value| value as f32);
        let eye = self.eye.to_array().map(|value| value as f32);
        let (clip, light) = (columns(&self.clip_from_model), columns(&self.light_from_model));
        let rows = [
            &clip[..],
            &light,
            &eye,
            &self.key,
            &self.key_tint,
            &self.ambient,
            &self.background,
            &self.ring,
            &self.ring_kind,
            &self.picture,
            &self.flat_view,
            &self.units,
            self.sh.as_flattened(),
        ];
        for (to, value) in floats.iter_mut().zip(rows.into_iter().flatten()) {
            *to = *value;
        }
        floats
    }
}

fn vec4(xyz: Vec3, w: f32) -> [f32; 4] {
    [xyz.x, xyz.y, xyz.z, w]
}

/// As `frame.wgsl` numbers what is shown.
fn shown_number(shown: Shown) -> f32 {
    match shown {
        Shown::Lit => 0.0,
        Shown::Colour => 1.0,
        Shown::Roughness => 2.0,
        Shown::Metalness => 3.0,
        Shown::Checker => 4.0,
        Shown::Islands => 5.0,
        Shown::Mask => 6.0,
    }
}

/// Right, up and forward of a camera, each of unit length.
pub(crate) fn axes(camera: &Camera) -> (DVec3, DVec3, DVec3) {
    let forward = (camera.target - camera.eye).normalize_or(DVec3::NEG_Z);
    let right = forward.cross(camera.up).normalize_or(forward.any_orthonormal_vector());
    (right, right.cross(forward), forward)
}

/// Clip from view, depth 1 at the near end and 0 at the far end: so floats are finest far away, where
/// perspective is coarsest.
fn projection(camera: &Camera, near: f64, far: f64) -> DMat4 {
    let aspect = camera.viewport_px.x / camera.viewport_px.y;
    match camera.projection {
        Projection::Perspective { fov_y_rad } => {
            let scale = 1.0 / (fov_y_rad * 0.5).tan();
            let depth = near / (far - near);
            DMat4::from_cols(
                DVec4::new(scale / aspect, 0.0, 0.0, 0.0),
                DVec4::new(0.0, scale, 0.0, 0.0),
                DVec4::new(0.0, 0.0, depth, -1.0),
                DVec4::new(0.0, 0.0, far * depth, 0.0),
            )
        }
        Projection::Orthographic { height } => {
            let scale = 2.0 / height;
            let depth = 1.0 / (far - near);
            DMat4::from_cols(
                DVec4::new(scale / aspect, 0.0, 0.0, 0.0),
                DVec4::new(0.0, scale, 0.0, 0.0),
                DVec4::new(0.0, 0.0, depth, 0.0),
                DVec4::new(0.0, 0.0, far * depth, 1.0),
            )
        }
    }
}

/// The unit vector towards the key light.
pub(crate) fn light_direction(key: &KeyLight) -> DVec3 {
    let (azimuth, elevation) = (f64::from(key.azimuth_rad), f64::from(key.elevation_rad));
    let (sin, cos) = azimuth.sin_cos();
    let (rise, across) = elevation.sin_cos();
    DVec3::new(sin * across, rise, cos * across)
}

/// The box around a ball of this radius about the origin, as the light sees it: depth 0 nearest to it.
fn light_projection(direction: DVec3, radius: f64) -> DMat4 {
    let (right, up) = direction.any_orthonormal_pair();
    // A hair wider than the ball, so that nothing lies on the map's rim.
    let (across, along) = (1.0 / (radius * 1.02), -0.5 / (radius * 1.02));
    DMat4::from_cols(
        DVec4::new(right.x * across, up.x * across, direction.x * along, 0.0),
        DVec4::new(right.y * across, up.y * across, direction.y * along, 0.0),
        DVec4::new(right.z * across, up.z * across, direction.z * along, 0.0),
        DVec4::new(0.0, 0.0, 0.5, 1.0),
    )
}

#[cfg(test)]
mod tests {
    use glam::DVec2;

    use super::*;

    fn cameras() -> [Camera; 2] {
        [Projection::Perspective { fov_y_rad: 0.7 }, Projection::Orthographic { height: 3.0 }].map(
            |projection| Camera {
                eye: DVec3::new(1.8, 1.6, 2.4),
                target: DVec3::new(0.1, 0.2, 0.0),
                up: DVec3::Y,
                projection,
                viewport_px: DVec2::new(800.0, 600.0),
            },
        )
    }

    #[test]
    fn the_picture_shows_a_point_where_the_camera_projects_it() {
        for camera in cameras() {
            let (right, up, forward) = axes(&camera);
            let clip = projection(&camera, 0.5, 9.0)
                * DMat4::from_mat3(glam::DMat3::from_cols(right, up, -forward).transpose())
                * DMat4::from_translation(-camera.eye);
            for point in [DVec3::ZERO, DVec3::new(0.4, -0.3, 0.7), DVec3::new(-0.9, 0.5, -0.2)] {
                let at = clip * point.extend(1.0);
                let ndc = at.truncate() / at.w;
                let px = DVec2::new(ndc.x + 1.0, 1.0 - ndc.y) * camera.viewport_px * 0.5;
                assert!((px - camera.project(point).unwrap()).length() < 1e-9);
                assert!(ndc.z > 0.0 && ndc.z < 1.0);
            }
            let ends = [(0.5, 1.0), (9.0, 0.0)].map(|(depth, expected)| {
                let at = clip * (camera.eye + forward * depth).extend(1.0);
                (at.z / at.w - expected).abs()
            });
            assert!(ends.iter().all(|off| *off < 1e-12), "{ends:?}");
        }
    }

    #[test]
    fn the_light_sees_the_whole_ball_and_what_is_nearer_to_it_first() {
        let direction = DVec3::new(0.6, 0.64, 0.48);
        let clip = light_projection(direction, 2.0);
        for axis in [DVec3::X, DVec3::Y, DVec3::Z, direction] {
            for point in [axis * 2.0, axis * -2.0] {
                let at = clip * point.extend(1.0);
                assert!(at.x.abs() < 1.0 && at.y.abs() < 1.0 && at.z > 0.0 && at.z < 1.0);
            }
        }
        let depth = |point: DVec3| (clip * point.extend(1.0)).z;
        assert!(depth(direction) < depth(DVec3::ZERO));
    }

    #[test]
    fn azimuth_turns_about_y_from_z_to_x() {
        let key = KeyLight {
            azimuth_rad: std::f32::consts::FRAC_PI_2,
            elevation_rad: 0.0,
            strength: 1.0,
            radius_rad: 0.0,
            tint: [1.0; 3],
        };
        assert!((light_direction(&key) - DVec3::X).length() < 1e-7);
        let up = KeyLight { elevation_rad: std::f32::consts::FRAC_PI_2, ..key };
        assert!((light_direction(&up) - DVec3::Y).length() < 1e-7);
    }
}
