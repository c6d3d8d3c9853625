use glam::{DVec3, Vec3};
use raster::{TextureSize, Unobserved, texel_index};

use crate::testing::{halved_cylinder, plane_of_islands, prepared, six_sided_sphere, two_sheets};
use crate::{BLOCK_TEXELS, DecodedTile, MaterialSlot, Mesh, Surface, TexelBlock, TexelMap};

fn scenes() -> Vec<(Surface, TexelMap)> {
    let meshes: [Mesh; 4] = [
        halved_cylinder(64).0,
        six_sided_sphere(12),
        plane_of_islands(3, &[0.4, 2.0]),
        two_sheets(90, 0.1),
    ];
    let built = |mesh| {
        let surface = prepared(mesh);
        let size = TextureSize::new(512).unwrap();
        let map = TexelMap::build(&surface, MaterialSlot(0), size, &Unobserved).unwrap();
        (surface, map)
    };
    meshes.into_iter().map(built).collect()
}

fn each_tile(mut see: impl FnMut(&Surface, &TexelMap, raster::TileAt, &DecodedTile)) {
    for (surface, map) in scenes() {
        let mut tile = DecodedTile::default();
        for at in map.tiles() {
            map.decode(&surface, at, &mut tile);
            see(&surface, &map, at, &tile);
        }
    }
}

#[test]
fn blocks_hold_the_texels_that_the_map_shows_each_once_and_say_who_owns_them() {
    let mut seen = 0;
    each_tile(|_, map, at, tile| {
        assert!(tile.blocks.windows(2).all(|pair| pair[0].place < pair[1].place));
        assert!(tile.blocks.iter().all(|block| block.shown != 0 && block.place < 64));
        assert!(tile.blocks.iter().all(|block| block.padding & !block.shown == 0));
        let mut found = vec![false; raster::TILE_TEXELS];
        for texel in tile.texels() {
            assert!(!found[texel.index as usize]);
            found[texel.index as usize] = true;
        }
        let shown = map.shown_texels();
        let (left, top) = at.first_texel();
        for y in 0..64 {
            for x in 0..64 {
                let index = texel_index(x, y);
                assert_eq!(found[index], shown[((top + y) * 512 + left + x) as usize]);
                seen += 1;
            }
        }
        for texel in tile.texels() {
            let (x, y) = (u32::from(texel.index) % 64, u32::from(texel.index) / 64);
            let owner = map.owner(left + x, top + y);
            assert_eq!(owner, (!texel.padding).then_some(texel.owner));
        }
    });
    assert!(seen > 100_000);
}

#[test]
fn texels_that_show_nothing_repeat_one_that_does() {
    let mut repeated = 0;
    each_tile(|_, _, _, tile| {
        for block in &tile.blocks {
            let like = |a: usize, b: usize| {
                let (mut a, b) = (block.texel(a), block.texel(b));
                (a.index, a.padding) = (b.index, b.padding);
                a == b
            };
            for hidden in (0..BLOCK_TEXELS).filter(|&number| block.shown >> number & 1 == 0) {
                assert!(block.numbers().any(|number| like(hidden, number)));
                repeated += 1;
            }
        }
    });
    assert!(repeated > 1000);
}

fn is_bounded(block: &TexelBlock, number: usize) -> bool {
    let uv = block.uv_of(number);
    block.offset_of(number).distance(block.centre) <= block.radius
        && block.normal_of(number).dot(block.facing) >= block.spread
        && block.uv_low.cmple(uv).all()
        && uv.cmple(block.uv_high).all()
}

#[test]
fn the_bounds_of_a_block_hold_its_texels_and_are_not_much_wider() {
    let mut with_cone = 0;
    each_tile(|_, _, _, tile| {
        for block in &tile.blocks {
            assert!(block.numbers().all(|number| is_bounded(block, number)));
            let farthest = block
                .numbers()
                .map(|number| block.offset_of(number).distance(block.centre))
                .fold(0.0, f32::max);
            assert!(block.radius <= farthest * 1.001 + 1e-5, "{} {farthest}", block.radius);
            assert!((block.facing.length() - 1.0).abs() < 1e-6);
            with_cone += usize::from(block.spread > 0.9);
        }
    });
    assert!(with_cone > 100);
}

/// Point and normal are those that the surface gives for the weights, to the last places of f32.
#[test]
fn values_are_those_of_the_surface_at_the_texels_weights() {
    let mut compared = 0;
    each_tile(|surface, _, _, tile| {
        for texel in tile.texels() {
            let triangle = tile.frames[texel.frame as usize].triangle;
            let point = tile.point(&texel);
            // Owned points lie in their triangle; those of padding may lie beyond it.
            let on = surface.nearest_on(triangle, point);
            let nearest = surface.position(triangle, on.barycentric);
            let allowed = 1e-6 * (1.0 + f64::from(texel.offset.length()));
            if !texel.padding {
                assert!(nearest.distance(point) < allowed, "{nearest} {point}");
                let uv = surface.uv(triangle, on.barycentric).unwrap();
                assert!((uv - texel.uv.as_dvec2()).length() < 1e-6);
            }
            if nearest.distance(point) < allowed {
                let normal: DVec3 = surface.smooth_normal(triangle, on.barycentric);
                assert!((normal.as_vec3() - texel.normal).length() < 2e-5);
                compared += 1;
            }
            assert!((texel.normal.length() - 1.0).abs() < 1e-6);
            assert!(Vec3::is_finite(texel.offset));
        }
    });
    assert!(compared > 100_000, "{compared}");
}
