//! Tone mapping and luminance.

use glam::Vec3;
use viewport::shading::{NEUTRAL_EXPOSURE, luminance, tone_map, tone_neutral};

#[test]
fn the_neutral_curve_has_the_values_of_its_specification() {
    // Khronos PBR Neutral, evaluated in float64 from the specification's text.
    for (radiance, expected) in [
        ([0.04; 3], [0.01; 3]),
        ([0.08; 3], [0.04; 3]),
        ([0.18; 3], [0.14; 3]),
        ([0.5; 3], [0.46; 3]),
        ([0.8; 3], [0.76; 3]),
        ([1.0; 3], [0.869_091; 3]),
        ([2.0; 3], [0.96; 3]),
        ([10.0; 3], [0.993_898; 3]),
        ([1.0, 0.0, 0.0], [0.88, 0.015_56, 0.015_56]),
        ([4.0, 1.0, 0.2], [0.983_256, 0.468_299, 0.330_977]),
        ([0.8, 0.2, 0.1], [0.76, 0.16, 0.06]),
    ] {
        let found = tone_neutral(Vec3::from(radiance));
        let wrong = (found - Vec3::from(expected)).abs().max_element();
        assert!(wrong < 5e-6, "{radiance:?}: {found}, expected {expected:?}");
    }
}

#[test]
fn the_neutral_curve_never_falls_and_turns_no_hue() {
    let mut before = 0.0;
    for at in 0..4000 {
        let grey = tone_neutral(Vec3::splat(at as f32 * 0.005)).x;
        assert!(grey >= before && grey <= 1.0, "{at}: {grey} after {before}");
        before = grey;
    }
    // Hue is the place of the middle component between the others; it stays (the specification's goals).
    let place = |c: Vec3| (c.y - c.z) / (c.x - c.z);
    for scale in [0.1, 0.5, 1.0, 3.0] {
        let c = Vec3::new(1.0, 0.4, 0.1) * scale;
        assert!((place(tone_neutral(c)) - place(c)).abs() < 1e-4);
    }
}

#[test]
fn linear_clips_and_is_not_corrected_but_both_follow_the_stops() {
    let c = Vec3::new(0.1, 0.3, 0.9);
    assert_eq!(tone_map(c, 1.0, true), Vec3::new(0.2, 0.6, 1.0));
    assert_eq!(tone_map(c, -1.0, false), tone_neutral(c * 0.5 * NEUTRAL_EXPOSURE));
}

#[test]
fn white_has_luminance_one() {
    assert!((luminance(Vec3::ONE) - 1.0).abs() < 1e-6); // ITU-R BT.709
    assert!(luminance(Vec3::Y) > luminance(Vec3::X) && luminance(Vec3::X) > luminance(Vec3::Z));
}
