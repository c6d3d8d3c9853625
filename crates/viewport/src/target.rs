//! Where a picture is drawn: a texture of our own, which a window shows or a file keeps.

use raster::{Bitmap, Extent};

use crate::layouts::Layouts;
use crate::{Gpu, ViewportError};

/// What light is gathered in before it is encoded.
pub(crate) const DRAWN: wgpu::TextureFormat = wgpu::TextureFormat::Rgba16Float;
pub(crate) const DEPTH: wgpu::TextureFormat = wgpu::TextureFormat::Depth32Float;
/// What the picture is kept in: sRGB-encoded by us, so that a window takes it as it is.
pub(crate) const SHOWN: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;

/// A picture and what it is drawn with. It keeps what was drawn last until it is drawn again.
#[derive(Debug)]
pub struct Target {
    samples: u32,
    layout: wgpu::BindGroupLayout,
    canvas: Option<Canvas>,
}

/// What a target of some size has.
#[derive(Debug)]
pub(crate) struct Canvas {
    pub(crate) size: [u32; 2],
    /// Several samples a pixel; none where one is enough.
    pub(crate) sampled: Option<wgpu::TextureView>,
    pub(crate) drawn: wgpu::TextureView,
    pub(crate) depth: wgpu::TextureView,
    pub(crate) drawn_group: wgpu::BindGroup,
    shown: wgpu::Texture,
    pub(crate) shown_view: wgpu::TextureView,
}

impl Target {
    /// For a picture of this size in pixels. With nothing in width or height there is nothing to draw on, and
    /// drawing does nothing.
    ///
    /// # Errors
    /// [`ViewportError::PictureTooLarge`].
    pub fn new(gpu: &Gpu, size: [u32; 2]) -> Result<Self, ViewportError> {
        let layout = Layouts::new(gpu.device()).picture;
        let mut target = Self { samples: gpu.samples(), layout, canvas: None };
        target.resize(gpu, size)?;
        Ok(target)
    }

    /// Takes another size; true when that changed anything: then the picture is black until it is drawn, and
    /// [`Target::view`] is another one.
    ///
    /// # Errors
    /// [`ViewportError::PictureTooLarge`]; the target is left as it was.
    pub fn resize(&mut self, gpu: &Gpu, size: [u32; 2]) -> Result<bool, ViewportError> {
        if self.size() == size {
            return Ok(false);
        }
        let most = gpu.largest_texture();
        let [width, height] = size;
        if width > most || height > most {
            return Err(ViewportError::PictureTooLarge { width, height, most });
        }
        let is_empty = width == 0 || height == 0;
        let changed = self.canvas.is_some() || !is_empty;
        self.canvas = (!is_empty).then(|| Canvas::new(gpu, &self.layout, size, self.samples));
        Ok(changed)
    }

    /// Width and height in pixels; both 0 where there is nothing to draw on.
    pub fn size(&self) -> [u32; 2] {
        self.canvas.as_ref().map_or([0, 0], |canvas| canvas.size)
    }

    /// The picture: sRGB-encoded, in a format that isn't. `None` where there is nothing to draw on.
    pub fn view(&self) -> Option<&wgpu::TextureView> {
        self.canvas.as_ref().map(|canvas| &canvas.shown_view)
    }

    /// Bytes of memory that it takes on the adapter.
    pub fn bytes(&self) -> u64 {
        let [width, height] = self.size();
        let (drawn, depth, shown) = (8, 4, 4);
        let sampled = if self.samples > 1 { u64::from(self.samples) * drawn } else { 0 };
        u64::from(width)
            * u64::from(height)
            * (sampled + drawn + u64::from(self.samples) * depth + shown)
    }

    pub(crate) fn samples(&self) -> u32 {
        self.samples
    }

    pub(crate) fn canvas(&self) -> Option<&Canvas> {
        self.canvas.as_ref()
    }

    /// The picture: red, green and blue, sRGB-encoded, row by row from the top. Waits for it to be drawn.
    ///
    /// # Errors
    /// [`ViewportError::Readback`].
    pub fn read(&self, gpu: &Gpu) -> Result<Bitmap<u8>, ViewportError> {
        let [width, height] = self.size();
        let extent = Extent { width, height };
        let mut picture = Bitmap::filled(extent, 3, 0);
        let Some(canvas) = &self.canvas else { return Ok(picture) };
        let row = (width * 4).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
        let buffer = gpu.device().create_buffer(&wgpu::BufferDescriptor {
            label: Some("picture"),
            size: u64::from(row) * u64::from(height),
            usage: wgpu::BufferUsages::COPY_DST | wgpu::BufferUsages::MAP_READ,
            mapped_at_creation: false,
        });
        let mut encoder =
            gpu.device().create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        encoder.copy_texture_to_buffer(
            canvas.shown.as_image_copy(),
            wgpu::TexelCopyBufferInfo {
                buffer: &buffer,
                layout: wgpu::TexelCopyBufferLayout {
                    offset: 0,
                    bytes_per_row: Some(row),
                    rows_per_image: None,
                },
            },
            canvas.shown.size(),
        );
        gpu.queue().submit([encoder.finish()]);
        let (told, mapped) = std::sync::mpsc::sync_channel(1);
        buffer.map_async(wgpu::MapMode::Read, .., move |result| {
            let _sent = told.try_send(result).is_ok();
        });
        gpu.wait()?;
        let failed = |error: &dyn std::fmt::Display| ViewportError::Readback(error.to_string());
        mapped.try_recv().map_err(|error| failed(&error))?.map_err(|error| failed(&error))?;
        let range = buffer.get_mapped_range(..).map_err(|error| failed(&error))?;
        let rows = range.chunks_exact(row as usize).flat_map(|row| &row[..width as usize * 4]);
        let kept = rows.enumerate().filter(|(index, _)| index % 4 != 3).map(|(_, &value)| value);
        for (to, value) in picture.values_mut().iter_mut().zip(kept) {
            *to = value;
        }
        Ok(picture)
    }
}

impl Canvas {
    fn new(gpu: &Gpu, layout: &wgpu::BindGroupLayout, size: [u32; 2], samples: u32) -> Self {
        let texture = |label, format, sample_count, usage| {
            gpu.device().create_texture(&wgpu::TextureDescriptor {
                label: Some(label),
                size: wgpu::Extent3d { width: size[0], height: size[1], depth_or_array_layers: 1 },
                mip_level_count: 1,
                sample_count,
                dimension: wgpu::TextureDimension::D2,
                format,
                usage: usage | wgpu::TextureUsages::RENDER_ATTACHMENT,
                view_formats: &[],
            })
        };
        let view =
            |texture: &wgpu::Texture| texture.create_view(&wgpu::TextureViewDescriptor::default());
        let none = wgpu::TextureUsages::empty();
        let sampled = (samples > 1).then(|| view(&texture("samples", DRAWN, samples, none)));
        let drawn = view(&texture("drawn", DRAWN, 1, wgpu::TextureUsages::TEXTURE_BINDING));
        let depth = view(&texture("depth", DEPTH, samples, none));
        let shown = texture(
            "picture",
            SHOWN,
            1,
            wgpu::TextureUsages::TEXTURE_BINDING | wgpu::TextureUsages::COPY_SRC,
        );
        let drawn_group = gpu.device().create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("picture"),
            layout,
            entries: &[wgpu::BindGroupEntry {
                binding: 0,
                resource: wgpu::BindingResource::TextureView(&drawn),
            }],
        });
        let shown_view = view(&shown);
        Self { size, sampled, drawn, depth, drawn_group, shown, shown_view }
    }
}
