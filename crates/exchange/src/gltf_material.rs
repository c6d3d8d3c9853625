//! Materials of glTF files: metallic-roughness, multiplied out into our maps.
//!
//! glTF 2.0, section 3.9: the base colour texture is sRGB-encoded and its factor linear; roughness is
//! green and metalness blue of one linear texture; normal, occlusion and emission pass through.

use document::{ModelMaterial, PassMapKind};
use gltf::json::material::Material;
use gltf::json::validation::Checked;
use gltf::json::{Index, material::AlphaMode, texture};
use raster::{LinearRgb, Observer};

use crate::error::ExchangeError;
use crate::folder::Beside;
use crate::gltf_accessor::Buffers;
use crate::gltf_open::load_uri;
use crate::maps::{Maps, Want, pass_map};
use crate::notes::Notes;
use crate::text::shown;

const REMEDY: &str = "export the model again";

/// Name and values of each material in `used`; `None` is that of faces without one.
pub(crate) fn read_materials(
    buffers: &Buffers<'_>,
    used: &[Option<usize>],
    beside: &dyn Beside,
    notes: &mut Notes,
    observer: &dyn Observer,
) -> Result<Vec<(String, ModelMaterial)>, ExchangeError> {
    let mut maps = Maps::default();
    let mut read = |index: &Option<usize>| {
        observer.check()?;
        let Some(index) = *index else {
            return Ok(("unnamed".to_owned(), ModelMaterial::default()));
        };
        let place = format!("material {index}");
        let Some(material) = buffers.root.materials.get(index) else {
            let problem = format!("there is no such material; {REMEDY}");
            return Err(ExchangeError::place(buffers.file, place, problem));
        };
        let name = material.name.clone().filter(|name| !name.is_empty());
        let name = name.unwrap_or_else(|| format!("material {}", index + 1));
        let shown = shown(&name);
        let mut reading = Reading { buffers, beside, place, shown, maps: &mut maps, notes };
        Ok((name, reading.material(material)?))
    };
    used.iter().map(&mut read).collect()
}

struct Reading<'a> {
    buffers: &'a Buffers<'a>,
    beside: &'a dyn Beside,
    place: String,
    shown: String,
    maps: &'a mut Maps,
    notes: &'a mut Notes,
}

impl Reading<'_> {
    fn material(&mut self, source: &Material) -> Result<ModelMaterial, ExchangeError> {
        let pbr = &source.pbr_metallic_roughness;
        let unit = |value: f32| value.clamp(0.0, 1.0);
        let [r, g, b, _] = pbr.base_color_factor.0.map(unit);
        let (rough, metal) = (unit(pbr.roughness_factor.0), unit(pbr.metallic_factor.0));
        let mut made = ModelMaterial {
            base_colour: LinearRgb([r, g, b]).encode(),
            roughness: rough,
            metalness: metal,
            ..ModelMaterial::default()
        };
        if let Some(info) = &pbr.base_color_texture
            && let Some(image) = self.image(info.index, info.tex_coord)?
        {
            made.base_colour_map = Some(self.map(image, Want::Colour([r, g, b]))?);
        }
        if let Some(info) = &pbr.metallic_roughness_texture
            && let Some(image) = self.image(info.index, info.tex_coord)?
        {
            made.roughness_map = Some(self.map(image, Want::Scalar(1, rough))?);
            made.metalness_map = Some(self.map(image, Want::Scalar(2, metal))?);
        }
        self.pass_maps(source, &mut made)?;
        if source.alpha_mode != Checked::Valid(AlphaMode::Opaque) {
            self.note("transparency is not kept");
        }
        if source.double_sided {
            self.note("that its faces show on both sides is not kept");
        }
        Ok(made)
    }

    fn pass_maps(
        &mut self,
        source: &Material,
        made: &mut ModelMaterial,
    ) -> Result<(), ExchangeError> {
        let normal = source.normal_texture.as_ref().map(|t| (t.index, t.tex_coord, [t.scale; 3]));
        let glow = source.emissive_factor.0;
        let emission = source.emissive_texture.as_ref().map(|t| (t.index, t.tex_coord, glow));
        let occlusion = source.occlusion_texture.as_ref();
        let occlusion = occlusion.map(|t| (t.index, t.tex_coord, [t.strength.0; 3]));
        if emission.is_none() && glow != [0.0; 3] {
            self.note("its emission has no map and was left out");
        }
        for (kind, texture) in [
            (PassMapKind::Normal, normal),
            (PassMapKind::Emission, emission),
            (PassMapKind::Occlusion, occlusion),
        ] {
            let Some((texture, uv_set, factor)) = texture else { continue };
            let Some(image) = self.image(texture, uv_set)? else { continue };
            let (name, bytes) = (self.image_name(image), self.bytes(image)?);
            made.pass_maps.extend(pass_map(kind, &name, bytes, factor, self.notes)?);
        }
        Ok(())
    }

    /// The image of a texture; `None`, with a note, where it is laid out by another UV set.
    fn image(
        &mut self,
        index: Index<texture::Texture>,
        uv_set: u32,
    ) -> Result<Option<usize>, ExchangeError> {
        let Some(texture) = self.buffers.root.get(index) else {
            return self.fail(format!("there is no texture {index}; {REMEDY}"));
        };
        if uv_set != 0 {
            self.note("a map that follows another UV set than the first was left out");
            return Ok(None);
        }
        // A texture whose image only an extension names has this number.
        if texture.source.value() == u32::MAX as usize {
            self.note("a map in a format that only an extension reads was left out");
            return Ok(None);
        }
        Ok(Some(texture.source.value()))
    }

    fn map(
        &mut self,
        image: usize,
        want: Want,
    ) -> Result<std::sync::Arc<raster::Bitmap<u16>>, ExchangeError> {
        let name = self.image_name(image);
        let fetch = || bytes(self.buffers, image, self.beside);
        self.maps.map(&name, want, fetch, self.notes)
    }

    fn bytes(&self, image: usize) -> Result<Vec<u8>, ExchangeError> {
        bytes(self.buffers, image, self.beside)
    }

    fn image_name(&self, image: usize) -> String {
        format!("{}: image {image}", self.buffers.file)
    }

    fn note(&mut self, what: &str) {
        self.notes.add(format!("material {}: {what}", self.shown));
    }

    fn fail<T>(&self, problem: String) -> Result<T, ExchangeError> {
        Err(ExchangeError::place(self.buffers.file, self.place.clone(), problem))
    }
}

fn bytes(
    buffers: &Buffers<'_>,
    index: usize,
    beside: &dyn Beside,
) -> Result<Vec<u8>, ExchangeError> {
    let place = format!("image {index}");
    let fail = |problem: &str| {
        Err(ExchangeError::place(buffers.file, place.clone(), format!("{problem}; {REMEDY}")))
    };
    let Some(image) = buffers.root.images.get(index) else { return fail("there is no such image") };
    match (&image.uri, image.buffer_view) {
        (Some(uri), _) => load_uri(buffers.file, &place, uri, beside),
        (None, Some(view)) => buffers.view(view, &place).map(<[u8]>::to_vec),
        (None, None) => fail("it has no data"),
    }
}
