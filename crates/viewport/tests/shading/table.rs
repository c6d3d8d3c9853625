//! The DFG table, against `tests/reference/ggx_*_albedo.csv`.

use std::path::Path;

use viewport::shading::{DFG_SIZE, DfgTable};

/// The numbers of a file in `tests/reference/`, without its two lines of text.
pub(crate) fn rows(name: &str) -> Vec<Vec<f64>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference");
    let text = std::fs::read_to_string(folder.join(name)).unwrap();
    let numbers = |line: &str| line.split(',').map(|number| number.parse().unwrap()).collect();
    let rows: Vec<Vec<f64>> = text.lines().skip(2).map(numbers).collect();
    assert!(rows.len() >= 10);
    rows
}

#[test]
fn albedo_at_an_angle_is_that_of_the_exact_integral() {
    // tests/reference/ggx_directional_albedo.csv
    let dfg = DfgTable::new();
    let mut worst = [0.0_f64; 3];
    for row in rows("ggx_directional_albedo.csv") {
        let (roughness, cosine, albedo, scale, bias) = (row[0], row[2], row[3], row[5], row[6]);
        let found = dfg.sample(cosine as f32, roughness as f32).as_dvec4();
        let wrong = [1.0 - found.y - albedo, 1.0 - found.y - found.x - scale, found.x - bias];
        for (worst, wrong) in worst.iter_mut().zip(wrong) {
            *worst = worst.max(wrong.abs());
        }
    }
    assert!(worst.iter().all(|&wrong| wrong < 1e-3), "albedo, scale, bias: {worst:?}");
}

#[test]
fn average_albedo_is_that_of_the_exact_integral() {
    // tests/reference/ggx_average_albedo.csv
    let dfg = DfgTable::new();
    for row in rows("ggx_average_albedo.csv") {
        let found = 1.0 - f64::from(dfg.sample(0.3, row[0] as f32).w);
        assert!(
            (found - row[1]).abs() < 5e-4,
            "roughness {}: {found}, expected {}",
            row[0],
            row[1]
        );
    }
}

#[test]
fn the_texture_holds_the_table_in_half_floats() {
    let dfg = DfgTable::new();
    let texture = dfg.texture();
    let [columns, rows] = DFG_SIZE;
    assert_eq!(texture.len(), columns * rows);
    for (column, row) in [(0, 0), (17, 5), (63, 31)] {
        let root = column as f32 / (columns - 1) as f32;
        let exact = dfg.sample(root * root, row as f32 / (rows - 1) as f32);
        for (bits, exact) in texture[row * columns + column].into_iter().zip(exact.to_array()) {
            let found = half::f16::from_bits(bits).to_f32();
            // Half floats round by a part in 2048; below 6e-5 evenly by 3e-8.
            assert!((found - exact).abs() <= exact / 2000.0 + 3e-6, "{found} {exact}");
        }
    }
}

#[test]
fn what_one_bounce_leaves_out_grows_with_roughness_and_is_a_share() {
    let dfg = DfgTable::new();
    for cosine in [0.02, 0.3, 1.0] {
        let rough = (0..=20).map(|at| dfg.sample(cosine, at as f32 / 20.0));
        let missing: Vec<f32> = rough.map(|texel| texel.y).collect();
        assert!(missing.iter().all(|share| (0.0..0.8).contains(share)), "{missing:?}");
        // At grazing angles masking of the eye counts first, so that it falls in between.
        let grows = missing.windows(2).all(|pair| pair[0] <= pair[1] + 1e-3);
        assert!(grows || cosine < 0.1, "{missing:?}");
    }
}
