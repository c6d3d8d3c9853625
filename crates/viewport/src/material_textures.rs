//! The textures of one material on the adapter.

use raster::TileAt;
use surface::MaterialSlot;
use wgpu::util::DeviceExt as _;

use crate::tile_pixels::{
    TILE_LEVELS, TextureKind, TileLevels, average_colour, average_stored, level_start,
    stored_colour, stored_scalar,
};
use crate::upper_levels::{Patch, UpperLevels};
use crate::{Gpu, TilePixels};

/// One texture with all of its levels.
#[derive(Debug)]
struct Texture {
    kind: TextureKind,
    texels: wgpu::Texture,
    /// Levels of the material's own size that the texture leaves out at its fine end.
    dropped: u32,
    upper: Upper,
}

#[derive(Debug)]
enum Upper {
    Colour(UpperLevels<[f32; 3]>),
    Scalar(UpperLevels<u16>),
}

/// Base colour, roughness, metalness; a mask and a selection once one was shown.
#[derive(Debug)]
pub(crate) struct MaterialTextures {
    number: u32,
    size: u32,
    edge: u32,
    /// By [`TextureKind`].
    textures: [Texture; 5],
    facts: wgpu::Buffer,
    pub(crate) bind_group: wgpu::BindGroup,
}

/// Where the facts stand among the textures.
const FACTS: u32 = 4;

fn bound(
    gpu: &Gpu,
    layout: &wgpu::BindGroupLayout,
    textures: &[Texture; 5],
    facts: &wgpu::Buffer,
) -> wgpu::BindGroup {
    let views = textures
        .each_ref()
        .map(|texture| texture.texels.create_view(&wgpu::TextureViewDescriptor::default()));
    let mut entries: Vec<wgpu::BindGroupEntry<'_>> = (0..)
        .filter(|binding| *binding != FACTS)
        .zip(&views)
        .map(|(binding, view)| wgpu::BindGroupEntry {
            binding,
            resource: wgpu::BindingResource::TextureView(view),
        })
        .collect();
    entries.push(wgpu::BindGroupEntry { binding: FACTS, resource: facts.as_entire_binding() });
    gpu.device().create_bind_group(&wgpu::BindGroupDescriptor {
        label: Some("material"),
        layout,
        entries: &entries,
    })
}

impl MaterialTextures {
    /// Textures with this edge, or of the largest edge that is allowed; black until tiles come.
    pub(crate) fn new(
        gpu: &Gpu,
        layout: &wgpu::BindGroupLayout,
        material: MaterialSlot,
        size: u32,
        largest: u32,
    ) -> Self {
        let edge = size.min(largest).max(64);
        let textures = TextureKind::ALL
            .map(|kind| Texture::new(gpu, kind, size, if kind.comes_late() { 1 } else { edge }));
        let facts = gpu.device().create_buffer_init(&wgpu::util::BufferInitDescriptor {
            label: Some("material"),
            contents: bytemuck::cast_slice(&[material.0 as f32, size as f32, 0.0, 0.0]),
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
        });
        let bind_group = bound(gpu, layout, &textures, &facts);
        Self { number: material.0, size, edge, textures, facts, bind_group }
    }

    /// Makes a texture of a kind that comes late, unless there is one.
    pub(crate) fn make_room(
        &mut self,
        gpu: &Gpu,
        layout: &wgpu::BindGroupLayout,
        kind: TextureKind,
    ) {
        let found = self.textures.iter_mut().find(|texture| texture.kind == kind);
        if let Some(texture) = found.filter(|texture| texture.texels.width() != self.edge) {
            *texture = Texture::new(gpu, kind, self.size, self.edge);
            self.bind_group = bound(gpu, layout, &self.textures, &self.facts);
        }
    }

    /// Lets the selection be seen, or not.
    pub(crate) fn show_selection(&mut self, gpu: &Gpu, shown: bool) {
        let facts = [self.number as f32, self.size as f32, f32::from(shown), 0.0];
        gpu.queue().write_buffer(&self.facts, 0, bytemuck::cast_slice(&facts));
    }

    /// Texels a side of the material.
    pub(crate) fn size(&self) -> u32 {
        self.size
    }

    /// Texels a side on the adapter.
    pub(crate) fn edge(&self) -> u32 {
        self.edge
    }

    /// Writes tiles, their own levels and those above; gives the bytes that went up.
    pub(crate) fn upload(&mut self, gpu: &Gpu, tiles: &[TilePixels]) -> u64 {
        let mut sorted: Vec<&TilePixels> = tiles.iter().collect();
        sorted.sort_by_key(|tile| (tile.at().y, tile.at().x));
        let across = self.size / 64;
        sorted.retain(|tile| tile.at().x < across && tile.at().y < across);
        let mut bytes = 0;
        for texture in &mut self.textures {
            let with: Vec<(TileAt, &TileLevels)> = sorted
                .iter()
                .flat_map(|tile| tile.levels().iter().map(|levels| (tile.at(), levels)))
                .filter(|(_, levels)| levels.kind == texture.kind)
                .collect();
            if with.is_empty() {
                continue;
            }
            bytes += texture.upload(gpu, &with);
        }
        bytes
    }

    /// Bytes that the textures take on the adapter and their upper levels here.
    pub(crate) fn bytes(&self) -> u64 {
        self.textures.iter().map(Texture::bytes).sum()
    }
}

impl Texture {
    fn new(gpu: &Gpu, kind: TextureKind, full: u32, edge: u32) -> Self {
        let colour = kind == TextureKind::BaseColour;
        let texture = gpu.device().create_texture(&wgpu::TextureDescriptor {
            label: Some("material"),
            size: wgpu::Extent3d { width: edge, height: edge, depth_or_array_layers: 1 },
            mip_level_count: edge.ilog2() + 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: if colour {
                wgpu::TextureFormat::Rgba8UnormSrgb
            } else {
                wgpu::TextureFormat::R8Unorm
            },
            usage: wgpu::TextureUsages::TEXTURE_BINDING
                | wgpu::TextureUsages::COPY_DST
                | wgpu::TextureUsages::COPY_SRC,
            view_formats: &[],
        });
        let upper = if colour {
            Upper::Colour(UpperLevels::new(full / 64, [0.0; 3]))
        } else {
            Upper::Scalar(UpperLevels::new(full / 64, 0))
        };
        Self { kind, texels: texture, dropped: (full / edge).ilog2(), upper }
    }

    fn upload(&mut self, gpu: &Gpu, tiles: &[(TileAt, &TileLevels)]) -> u64 {
        let mut bytes = 0;
        for run in tiles.chunk_by(|a, b| a.0.y == b.0.y && a.0.x + 1 == b.0.x) {
            for level in self.dropped..TILE_LEVELS {
                bytes += self.write_run(gpu, run, level);
            }
        }
        for patch in self.upper_patches(tiles) {
            let level = TILE_LEVELS - 1 + patch.above;
            if level < self.dropped {
                continue;
            }
            let at = (patch.left, patch.top);
            self.write(gpu, level - self.dropped, at, patch.width, &patch.bytes);
            bytes += patch.bytes.len() as u64;
        }
        bytes
    }

    fn upper_patches(&mut self, tiles: &[(TileAt, &TileLevels)]) -> Vec<Patch> {
        match &mut self.upper {
            Upper::Colour(upper) => {
                let averages: Vec<_> = tiles.iter().map(|(at, tile)| (*at, tile.average)).collect();
                upper.update(&averages, average_colour, stored_colour)
            }
            Upper::Scalar(upper) => {
                let averages: Vec<_> =
                    tiles.iter().map(|(at, tile)| (*at, tile.average[0] as u16)).collect();
                upper.update(&averages, average_stored, |value| [stored_scalar(value)])
            }
        }
    }

    /// One level of tiles that lie side by side, as one block.
    fn write_run(&self, gpu: &Gpu, run: &[(TileAt, &TileLevels)], level: u32) -> u64 {
        let edge = 64u32 >> level;
        let Some((first, _)) = run.first() else { return 0 };
        let at = (first.x * edge, first.y * edge);
        let row = edge as usize * self.kind.texel_bytes();
        let start = level_start(level) * self.kind.texel_bytes();
        if let [(_, tile)] = run {
            self.write(gpu, level - self.dropped, at, edge, tile.level(level));
        } else {
            let mut block = Vec::with_capacity(run.len() * row * edge as usize);
            for y in 0..edge as usize {
                for (_, tile) in run {
                    block.extend_from_slice(&tile.bytes[start + y * row..start + (y + 1) * row]);
                }
            }
            self.write(gpu, level - self.dropped, at, edge * run.len() as u32, &block);
        }
        (run.len() * row * edge as usize) as u64
    }

    fn write(&self, gpu: &Gpu, level: u32, (x, y): (u32, u32), width: u32, bytes: &[u8]) {
        let row = width * self.kind.texel_bytes() as u32;
        gpu.queue().write_texture(
            wgpu::TexelCopyTextureInfo {
                texture: &self.texels,
                mip_level: level,
                origin: wgpu::Origin3d { x, y, z: 0 },
                aspect: wgpu::TextureAspect::All,
            },
            bytes,
            wgpu::TexelCopyBufferLayout {
                offset: 0,
                bytes_per_row: Some(row),
                rows_per_image: None,
            },
            wgpu::Extent3d {
                width,
                height: bytes.len() as u32 / row.max(1),
                depth_or_array_layers: 1,
            },
        );
    }

    fn bytes(&self) -> u64 {
        let levels = (0..self.texels.mip_level_count()).map(|level| {
            let edge = u64::from(self.texels.width() >> level);
            edge * edge * self.kind.texel_bytes() as u64
        });
        let upper = match &self.upper {
            Upper::Colour(upper) => upper.bytes(),
            Upper::Scalar(upper) => upper.bytes(),
        };
        levels.sum::<u64>() + upper as u64
    }
}
