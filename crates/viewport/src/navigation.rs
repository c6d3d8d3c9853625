//! Where the camera goes: pure functions from one camera to the next.
//!
//! Angles are radians, lengths model units, pixels count from the top left. The camera turns as a turntable
//! does, about +Y, and keeps its roll.

use brush::{Camera, Projection};
use glam::{DQuat, DVec2, DVec3};

use crate::frame::axes;

/// Share of the picture that a framed box may fill.
const FRAMED_SHARE: f64 = 0.86;

/// Below this share of its length a view has no compass direction of its own.
const UPRIGHT: f64 = 1e-6;

/// A view along an axis of the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AxisView {
    /// From +Z.
    Front,
    /// From -Z.
    Back,
    /// From -X: what is left of who stands in front.
    Left,
    /// From +X.
    Right,
    /// From +Y, front below.
    Top,
    /// From -Y, front above.
    Bottom,
}

/// Turns about a pivot: by `turn` about +Y (counter-clockwise seen from above, so the model turns to the left),
/// and by `raise` over it, which ends straight above and below. The pivot stays where it is in the picture.
pub fn orbit(camera: &Camera, pivot: DVec3, turn: f64, raise: f64) -> Camera {
    let (right, _, forward) = axes(camera);
    let level = forward.cross(DVec3::Y);
    // Straight up or down, the picture's own right is level.
    let across = if level.length() > UPRIGHT { level.normalize_or(right) } else { right };
    let depression = -forward.y.clamp(-1.0, 1.0).asin();
    let limit = std::f64::consts::FRAC_PI_2;
    let raise = (depression + raise).clamp(-limit, limit) - depression;
    let turned = DQuat::from_axis_angle(DVec3::Y, turn) * DQuat::from_axis_angle(across, -raise);
    let moved = |point: DVec3| pivot + turned * (point - pivot);
    Camera {
        eye: moved(camera.eye),
        target: moved(camera.target),
        up: turned * upright(camera),
        ..*camera
    }
}

/// Turns about the middle of the picture: by `angle`, clockwise as the picture is seen.
pub fn roll(camera: &Camera, angle: f64) -> Camera {
    let (.., forward) = axes(camera);
    Camera { up: DQuat::from_axis_angle(forward, -angle) * upright(camera), ..*camera }
}

/// Moves along the picture, so that a point of the model is seen at a pixel position. A point behind the
/// camera moves nothing.
pub fn pan(camera: &Camera, point: DVec3, to_px: DVec2) -> Camera {
    let (right, up, _) = axes(camera);
    let Some(seen) = camera.project(point) else { return *camera };
    let per_px = camera.units_per_px(camera.depth(point));
    let away = (to_px - seen) * per_px;
    let moved = up * away.y - right * away.x;
    Camera { eye: camera.eye + moved, target: camera.target + moved, ..*camera }
}

/// Goes closer to a point (`factor` below 1) or away from it: everything looks 1 / `factor` as large about it,
/// and it stays where it is in the picture. A factor that is not more than 0 changes nothing.
pub fn dolly(camera: &Camera, point: DVec3, factor: f64) -> Camera {
    if factor <= 0.0 || !factor.is_finite() {
        return *camera;
    }
    let moved = |from: DVec3| point + (from - point) * factor;
    let projection = match camera.projection {
        Projection::Orthographic { height } => Projection::Orthographic { height: height * factor },
        perspective @ Projection::Perspective { .. } => perspective,
    };
    Camera { eye: moved(camera.eye), target: moved(camera.target), projection, ..*camera }
}

/// Looks at the middle of a box from the same direction, from so far that all of it is in the picture,
/// whatever the picture's shape. A box without size keeps the distance.
pub fn framed(camera: &Camera, low: DVec3, high: DVec3) -> Camera {
    let (right, up, forward) = axes(camera);
    let centre = (low + high) * 0.5;
    let half = (high - low) * 0.5;
    let aspect = camera.viewport_px.x / camera.viewport_px.y;
    let corners = (0..8).map(|corner: u32| {
        let sign = |bit: u32| if corner >> bit & 1 == 1 { 1.0 } else { -1.0 };
        let offset = half * DVec3::new(sign(0), sign(1), sign(2));
        DVec3::new(offset.dot(right).abs() / aspect, offset.dot(up).abs(), offset.dot(forward))
    });
    let before = camera.eye.distance(camera.target);
    let has_size = half.max_element() > 0.0;
    let (distance, projection) = match camera.projection {
        Projection::Perspective { fov_y_rad } => {
            let reach = (fov_y_rad * 0.5).tan() * FRAMED_SHARE;
            let needed = corners.map(|corner| corner.x.max(corner.y) / reach - corner.z);
            (needed.fold(0.0, f64::max), camera.projection)
        }
        Projection::Orthographic { .. } => {
            let most = corners.map(|corner| corner.x.max(corner.y)).fold(0.0, f64::max);
            let height = 2.0 * most / FRAMED_SHARE;
            (half.length() * 4.0, Projection::Orthographic { height })
        }
    };
    if !has_size || distance <= 0.0 {
        return Camera { eye: centre - forward * before, target: centre, ..*camera };
    }
    Camera { eye: centre - forward * distance, target: centre, projection, ..*camera }
}

/// The same view without perspective: what lies at the target keeps its size.
pub fn orthographic(camera: &Camera) -> Camera {
    let Projection::Perspective { fov_y_rad } = camera.projection else { return *camera };
    let height = 2.0 * camera.eye.distance(camera.target) * (fov_y_rad * 0.5).tan();
    Camera { projection: Projection::Orthographic { height }, ..*camera }
}

/// The same view with perspective, from the distance at which what lies at the target keeps its size. The
/// angle of view is the vertical one, more than 0 and less than pi.
pub fn perspective(camera: &Camera, fov_y_rad: f64) -> Camera {
    let Projection::Orthographic { height } = camera.projection else { return *camera };
    let (.., forward) = axes(camera);
    let distance = height * 0.5 / (fov_y_rad * 0.5).tan();
    let projection = Projection::Perspective { fov_y_rad };
    Camera { eye: camera.target - forward * distance, projection, ..*camera }
}

/// Looks at the same target from the same distance along an axis, upright.
pub fn along(camera: &Camera, view: AxisView) -> Camera {
    let (from, up) = match view {
        AxisView::Front => (DVec3::Z, DVec3::Y),
        AxisView::Back => (DVec3::NEG_Z, DVec3::Y),
        AxisView::Left => (DVec3::NEG_X, DVec3::Y),
        AxisView::Right => (DVec3::X, DVec3::Y),
        AxisView::Top => (DVec3::Y, DVec3::NEG_Z),
        AxisView::Bottom => (DVec3::NEG_Y, DVec3::Z),
    };
    let distance = camera.eye.distance(camera.target);
    Camera { eye: camera.target + from * distance, up, ..*camera }
}

/// The first look at a model: from the front, a little to the right and above, all of it framed.
pub fn first_look(low: DVec3, high: DVec3, fov_y_rad: f64, viewport_px: DVec2) -> Camera {
    let target = (low + high) * 0.5;
    let camera = Camera {
        eye: target + DVec3::new(0.48, 0.3, 1.0),
        target,
        up: DVec3::Y,
        projection: Projection::Perspective { fov_y_rad },
        viewport_px,
    };
    framed(&camera, low, high)
}

/// Nearest and farthest depth that can show anything of a ball: both more than 0 for a perspective camera.
pub fn depth_range(camera: &Camera, centre: DVec3, radius: f64) -> (f64, f64) {
    let middle = camera.depth(centre);
    let radius = radius.max(f64::MIN_POSITIVE);
    // A little room, so that nothing lies on the near or the far plane.
    let (near, far) = (middle - radius * 1.01, middle + radius * 1.01);
    match camera.projection {
        Projection::Orthographic { .. } => (near, far),
        Projection::Perspective { .. } => {
            let near = near.max(radius * 1e-4);
            (near, far.max(near * 2.0))
        }
    }
}

/// The picture's up: square to the view.
fn upright(camera: &Camera) -> DVec3 {
    axes(camera).1
}

#[cfg(test)]
mod tests {
    use super::*;

    const NEAR: f64 = 1e-9;

    fn cameras() -> Vec<Camera> {
        let projections =
            [Projection::Perspective { fov_y_rad: 0.7 }, Projection::Orthographic { height: 3.0 }];
        let viewports = [DVec2::new(800.0, 600.0), DVec2::new(300.0, 900.0)];
        let camera = |projection, viewport_px| Camera {
            eye: DVec3::new(1.8, 1.6, 2.4),
            target: DVec3::new(0.1, 0.2, -0.1),
            up: DVec3::Y,
            projection,
            viewport_px,
        };
        projections.iter().flat_map(|&p| viewports.map(|v| camera(p, v))).collect()
    }

    fn elevation(camera: &Camera) -> f64 {
        (camera.eye - camera.target).normalize_or_zero().y.asin()
    }

    #[test]
    fn orbiting_leaves_the_pivot_where_it_is_in_the_picture() {
        let pivot = DVec3::new(0.3, -0.2, 0.4);
        for camera in cameras() {
            for (turn, raise) in [(0.4, 0.1), (-2.0, -0.6), (0.0, 9.0), (3.0, -9.0)] {
                let turned = orbit(&camera, pivot, turn, raise);
                let off = turned.project(pivot).unwrap() - camera.project(pivot).unwrap();
                assert!(off.length() < 1e-7, "{off}");
                let kept = turned.eye.distance(pivot) - camera.eye.distance(pivot);
                assert!(kept.abs() < NEAR);
            }
        }
    }

    #[test]
    fn orbiting_back_is_where_it_began_and_a_full_turn_is_none() {
        for camera in cameras() {
            let there = orbit(&camera, camera.target, 0.7, 0.3);
            let back = orbit(&there, camera.target, -0.7, -0.3);
            assert!((back.eye - camera.eye).length() < NEAR);
            let mut round = camera;
            for _ in 0..8 {
                round = orbit(&round, DVec3::X, std::f64::consts::FRAC_PI_4, 0.0);
            }
            assert!((round.eye - camera.eye).length() < NEAR);
        }
    }

    #[test]
    fn orbiting_ends_straight_above_and_comes_back_from_there() {
        for camera in cameras() {
            let above = orbit(&camera, camera.target, 0.0, 9.0);
            assert!((elevation(&above) - std::f64::consts::FRAC_PI_2).abs() < 1e-6);
            let further = orbit(&above, camera.target, 0.0, 1.0);
            assert!((further.eye - above.eye).length() < 1e-6, "it doesn't topple over");
            // Turning at the pole turns the picture, and nothing else.
            let turned = orbit(&above, camera.target, 1.0, 0.0);
            assert!((turned.eye - above.eye).length() < 1e-6);
            assert!((axes(&turned).1.dot(axes(&above).1) - 1.0f64.cos()).abs() < 1e-6);
            let down =
                orbit(&above, camera.target, 0.0, elevation(&camera) - std::f64::consts::FRAC_PI_2);
            assert!((down.eye - camera.eye).length() < 1e-5, "{} {}", down.eye, camera.eye);
            assert!(axes(&down).1.y > 0.0, "upright");
        }
    }

    #[test]
    fn raising_looks_from_higher_up_and_turning_goes_round_counter_clockwise() {
        let camera = cameras()[0];
        let raised = orbit(&camera, camera.target, 0.0, 0.2);
        assert!((elevation(&raised) - elevation(&camera) - 0.2).abs() < NEAR);
        let front = along(&camera, AxisView::Front);
        let turned = orbit(&front, front.target, std::f64::consts::FRAC_PI_2, 0.0);
        let right = along(&camera, AxisView::Right);
        assert!((turned.eye - right.eye).length() < NEAR);
    }

    #[test]
    fn panning_brings_the_point_under_the_cursor() {
        let point = DVec3::new(0.3, 0.1, 0.2);
        for camera in cameras() {
            for to in [DVec2::new(10.0, 20.0), DVec2::new(290.0, 580.0)] {
                let panned = pan(&camera, point, to);
                assert!((panned.project(point).unwrap() - to).length() < 1e-7);
                let (before, after) = (axes(&camera), axes(&panned));
                assert!((before.2 - after.2).length() < NEAR, "it looks the same way");
                assert!((camera.depth(point) - panned.depth(point)).abs() < NEAR);
            }
        }
        let behind = cameras()[0].eye * 3.0;
        assert_eq!(pan(&cameras()[0], behind, DVec2::ZERO), cameras()[0]);
    }

    #[test]
    fn dollying_makes_everything_larger_about_the_point() {
        let point = DVec3::new(0.3, 0.1, 0.2);
        for camera in cameras() {
            let near = dolly(&camera, point, 0.5);
            let off = near.project(point).unwrap() - camera.project(point).unwrap();
            assert!(off.length() < 1e-7);
            let per_px = |camera: &Camera| camera.units_per_px(camera.depth(point));
            assert!((per_px(&near) * 2.0 - per_px(&camera)).abs() < NEAR);
            for factor in [0.0, -1.0, f64::NAN, f64::INFINITY] {
                assert_eq!(dolly(&camera, point, factor), camera);
            }
        }
    }

    #[test]
    fn rolling_turns_the_picture_clockwise_and_stays_through_an_orbit() {
        let camera = cameras()[0];
        let rolled = roll(&camera, std::f64::consts::FRAC_PI_2);
        let (right, up, forward) = axes(&camera);
        let (rolled_right, rolled_up, rolled_forward) = axes(&rolled);
        assert!((rolled_forward - forward).length() < NEAR);
        // What was up is now on the right: seen so, the camera turned counter-clockwise.
        assert!((rolled_right - up).length() < NEAR || (rolled_up + right).length() < NEAR);
        let seen = rolled.project(rolled.target + up * 0.1).unwrap();
        assert!(seen.x > 400.0 + 1.0, "up in the model points right: {seen}");
        let orbited = orbit(&rolled, rolled.target, 0.3, 0.1);
        let level = |camera: &Camera| {
            let (right, up, forward) = axes(camera);
            let across = forward.cross(DVec3::Y).normalize_or_zero();
            up.dot(across).atan2(right.dot(across))
        };
        assert!((level(&orbited) - level(&rolled)).abs() < NEAR);
    }

    #[test]
    fn a_framed_box_is_wholly_in_the_picture_and_fills_it() {
        for camera in cameras() {
            for (low, high) in [
                (DVec3::new(-1.0, -2.0, -0.5), DVec3::new(3.0, 0.5, 0.1)),
                (DVec3::splat(1e3), DVec3::new(1001.0, 1000.0, 1000.0)),
            ] {
                let framed = framed(&camera, low, high);
                let corners = (0..8).map(|corner: u32| {
                    let pick = |bit: u32, axis: usize| {
                        if corner >> bit & 1 == 1 { high[axis] } else { low[axis] }
                    };
                    let seen =
                        framed.project(DVec3::new(pick(0, 0), pick(1, 1), pick(2, 2))).unwrap();
                    ((seen / camera.viewport_px * 2.0) - 1.0).abs().max_element()
                });
                let most = corners.fold(0.0, f64::max);
                assert!((most - FRAMED_SHARE).abs() < 1e-6, "{most}");
                assert!((axes(&framed).2 - axes(&camera).2).length() < NEAR);
            }
            let point = framed(&camera, DVec3::X, DVec3::X);
            assert_eq!(point.target, DVec3::X);
            let kept = point.eye.distance(point.target) - camera.eye.distance(camera.target);
            assert!(kept.abs() < NEAR);
        }
    }

    #[test]
    fn changing_the_projection_keeps_the_size_at_the_target() {
        let camera = cameras()[0];
        let flat = orthographic(&camera);
        let per_px = |camera: &Camera| camera.units_per_px(camera.depth(camera.target));
        assert!((per_px(&flat) - per_px(&camera)).abs() < NEAR);
        assert!((perspective(&flat, 0.7).eye - camera.eye).length() < NEAR);
        let wide = perspective(&flat, 1.2);
        assert!((per_px(&wide) - per_px(&camera)).abs() < NEAR);
        assert_eq!(orthographic(&flat), flat);
        assert_eq!(perspective(&camera, 1.2), camera);
    }

    #[test]
    fn axis_views_show_the_axes_where_they_belong() {
        let camera = cameras()[0];
        // Common practice, no source: which axis points right and which up.
        for (view, right, up) in [
            (AxisView::Front, DVec3::X, DVec3::Y),
            (AxisView::Back, DVec3::NEG_X, DVec3::Y),
            (AxisView::Left, DVec3::Z, DVec3::Y),
            (AxisView::Right, DVec3::NEG_Z, DVec3::Y),
            (AxisView::Top, DVec3::X, DVec3::NEG_Z),
            (AxisView::Bottom, DVec3::X, DVec3::Z),
        ] {
            let (to_right, to_up, _) = axes(&along(&camera, view));
            assert!((to_right - right).length() < NEAR && (to_up - up).length() < NEAR, "{view:?}");
        }
    }

    #[test]
    fn depths_hold_the_model_and_stay_in_front_of_the_eye() {
        for camera in cameras() {
            for radius in [1e-6, 1.0, 50.0] {
                let (near, far) = depth_range(&camera, camera.target, radius);
                let depth = camera.depth(camera.target);
                assert!(near < far && far >= depth + radius);
                if matches!(camera.projection, Projection::Perspective { .. }) {
                    assert!(near > 0.0);
                } else {
                    assert!(near <= depth - radius);
                }
            }
        }
    }
}
