//! Numbers out of glTF buffers. Every range is checked before a byte is read: view in buffer, elements
//! in view, indices in the list. glTF 2.0, sections 3.6.2 and 5.1 to 5.5.

use std::sync::Arc;

use gltf::json::accessor::{Accessor, ComponentType, Type};
use gltf::json::validation::Checked;
use gltf::json::{Index, Root, buffer};

use crate::error::ExchangeError;
use crate::obj_scan::MOST_CORNERS;

const REMEDY: &str = "export the model again";

/// The buffers of a file, loaded.
pub(crate) struct Buffers<'a> {
    /// The name of the file, for messages.
    pub(crate) file: &'a str,
    /// Its JSON.
    pub(crate) root: &'a Root,
    /// One for each buffer of it, at least as long as it says.
    pub(crate) bytes: Vec<Arc<[u8]>>,
}

/// Where an accessor's elements lie.
struct Elements<'b> {
    bytes: &'b [u8],
    stride: usize,
    size: usize,
    count: usize,
}

impl<'b> Elements<'b> {
    fn get(&self, element: usize) -> &'b [u8] {
        &self.bytes[element * self.stride..][..self.size]
    }
}

impl Buffers<'_> {
    /// An accessor of vectors of `N` floats; normalised integers become floats.
    pub(crate) fn vectors<const N: usize>(
        &self,
        index: Index<Accessor>,
    ) -> Result<Vec<[f32; N]>, ExchangeError> {
        let accessor = self.accessor(index)?;
        let component = self.component(index, accessor)?;
        let shape = accessor.type_.as_ref();
        if !matches!((shape, N), (Checked::Valid(Type::Vec2), 2))
            && !matches!((shape, N), (Checked::Valid(Type::Vec3), 3))
            && !matches!((shape, N), (Checked::Valid(Type::Vec4), 4))
        {
            return self.fail(index, format!("it must hold vectors of {N}; {REMEDY}"));
        }
        if component == ComponentType::U32 {
            return self.fail(index, format!("it must not hold 32-bit integers; {REMEDY}"));
        }
        let quantised = || self.root.extensions_used.iter().any(|e| e == "KHR_mesh_quantization");
        if component != ComponentType::F32 && !accessor.normalized && !quantised() {
            return self.fail(index, format!("its whole numbers must be normalised; {REMEDY}"));
        }
        let number = number(component, accessor.normalized);
        let size = component.size();
        let vector = |element: &[u8]| -> [f32; N] {
            std::array::from_fn(|n| number(&element[n * size..][..size]))
        };
        let mut values = vec![[0.0; N]; self.count(index, accessor)?];
        if let Some(elements) = self.elements(index, accessor, size * N)? {
            for (at, value) in values.iter_mut().enumerate() {
                *value = vector(elements.get(at));
            }
        }
        self.replace_sparse(index, accessor, size * N, |at, element| {
            values[at] = vector(element);
        })?;
        match values.iter().position(|value| value.iter().any(|v| !v.is_finite())) {
            Some(at) => self.fail(index, format!("element {at} is not a finite number; {REMEDY}")),
            None => Ok(values),
        }
    }

    /// An accessor of vertex indices.
    pub(crate) fn indices(&self, index: Index<Accessor>) -> Result<Vec<u32>, ExchangeError> {
        let accessor = self.accessor(index)?;
        let component = self.component(index, accessor)?;
        let whole =
            matches!(component, ComponentType::U8 | ComponentType::U16 | ComponentType::U32);
        if accessor.type_ != Checked::Valid(Type::Scalar) || !whole {
            let problem = format!("vertex indices must be unsigned whole numbers; {REMEDY}");
            return self.fail(index, problem);
        }
        let mut values = vec![0; self.count(index, accessor)?];
        if let Some(elements) = self.elements(index, accessor, component.size())? {
            for (at, value) in values.iter_mut().enumerate() {
                *value = unsigned(elements.get(at));
            }
        }
        self.replace_sparse(index, accessor, component.size(), |at, element| {
            values[at] = unsigned(element);
        })?;
        Ok(values)
    }

    /// How many components the vectors of an accessor have.
    pub(crate) fn components(&self, index: Index<Accessor>) -> Result<usize, ExchangeError> {
        match self.accessor(index)?.type_.as_ref() {
            Checked::Valid(shape) => Ok(shape.multiplicity()),
            Checked::Invalid => self.fail(index, format!("its type is unknown; {REMEDY}")),
        }
    }

    /// The bytes of a view.
    pub(crate) fn view(
        &self,
        index: Index<buffer::View>,
        place: &str,
    ) -> Result<&[u8], ExchangeError> {
        let fail = |problem: String| Err(ExchangeError::place(self.file, place, problem));
        let Some(view) = self.root.get(index) else {
            return fail(format!("there is no buffer view {index}; {REMEDY}"));
        };
        let Some(bytes) = self.bytes.get(view.buffer.value()) else {
            return fail(format!("there is no buffer {}; {REMEDY}", view.buffer));
        };
        let start = view.byte_offset.unwrap_or_default().0;
        let end = start.checked_add(view.byte_length.0);
        match end.filter(|&end| end <= bytes.len() as u64) {
            Some(end) => Ok(&bytes[start as usize..end as usize]),
            None => fail(format!(
                "buffer view {index} reaches past the {} bytes of its buffer; {REMEDY}",
                bytes.len()
            )),
        }
    }

    fn accessor(&self, index: Index<Accessor>) -> Result<&Accessor, ExchangeError> {
        match self.root.get(index) {
            Some(accessor) => Ok(accessor),
            None => self.fail(index, format!("there is no such accessor; {REMEDY}")),
        }
    }

    fn component(
        &self,
        index: Index<Accessor>,
        accessor: &Accessor,
    ) -> Result<ComponentType, ExchangeError> {
        match accessor.component_type.as_ref() {
            Checked::Valid(component) => Ok(component.0),
            Checked::Invalid => {
                self.fail(index, format!("its component type is unknown; {REMEDY}"))
            }
        }
    }

    fn count(&self, index: Index<Accessor>, accessor: &Accessor) -> Result<usize, ExchangeError> {
        let count = accessor.count.0;
        if count > MOST_CORNERS {
            return self.fail(index, format!("{count} elements are too many; reduce the model"));
        }
        Ok(count as usize)
    }

    fn elements(
        &self,
        index: Index<Accessor>,
        accessor: &Accessor,
        size: usize,
    ) -> Result<Option<Elements<'_>>, ExchangeError> {
        let Some(view) = accessor.buffer_view else { return Ok(None) };
        let stride = self.root.get(view).and_then(|view| view.byte_stride);
        let stride = stride.map_or(size, |stride| stride.0);
        let count = self.count(index, accessor)?;
        let offset = accessor.byte_offset.unwrap_or_default().0;
        self.range(index, view, offset, Range { stride, size, count }).map(Some)
    }

    fn range(
        &self,
        index: Index<Accessor>,
        view: Index<buffer::View>,
        offset: u64,
        Range { stride, size, count }: Range,
    ) -> Result<Elements<'_>, ExchangeError> {
        let bytes = self.view(view, &place(index))?;
        if stride < size {
            return self.fail(index, format!("its elements overlap; {REMEDY}"));
        }
        let last = (count as u64).saturating_sub(1).checked_mul(stride as u64);
        let length = last.map(|last| if count == 0 { 0 } else { last.saturating_add(size as u64) });
        let end = length.and_then(|length| length.checked_add(offset));
        match end.filter(|&end| end <= bytes.len() as u64) {
            Some(end) => {
                let bytes = &bytes[offset as usize..end as usize];
                Ok(Elements { bytes, stride, size, count })
            }
            None => self.fail(
                index,
                format!(
                    "{count} elements reach past the {} bytes of buffer view {view}; {REMEDY}",
                    bytes.len()
                ),
            ),
        }
    }

    fn replace_sparse(
        &self,
        index: Index<Accessor>,
        accessor: &Accessor,
        size: usize,
        mut replace: impl FnMut(usize, &[u8]),
    ) -> Result<(), ExchangeError> {
        let Some(sparse) = &accessor.sparse else { return Ok(()) };
        let whole = self.count(index, accessor)?;
        let Checked::Valid(component) = sparse.indices.component_type else {
            return self.fail(index, format!("its sparse index type is unknown; {REMEDY}"));
        };
        if sparse.count.0 > whole as u64 {
            return self.fail(index, format!("it replaces more elements than it has; {REMEDY}"));
        }
        let count = sparse.count.0 as usize;
        let index_size = component.0.size();
        let packed = |size| Range { stride: size, size, count };
        let (at, values) = (&sparse.indices, &sparse.values);
        let at = self.range(index, at.buffer_view, at.byte_offset.0, packed(index_size))?;
        let values = self.range(index, values.buffer_view, values.byte_offset.0, packed(size))?;
        for n in 0..at.count {
            let element = unsigned(at.get(n)) as usize;
            if element >= whole {
                let problem = format!("it replaces element {element} of {whole}; {REMEDY}");
                return self.fail(index, problem);
            }
            replace(element, values.get(n));
        }
        Ok(())
    }

    fn fail<T>(&self, index: Index<Accessor>, problem: String) -> Result<T, ExchangeError> {
        Err(ExchangeError::place(self.file, place(index), problem))
    }
}

struct Range {
    stride: usize,
    size: usize,
    count: usize,
}

fn place(index: Index<Accessor>) -> String {
    format!("accessor {index}")
}

fn unsigned(bytes: &[u8]) -> u32 {
    match *bytes {
        [a] => u32::from(a),
        [a, b] => u32::from(u16::from_le_bytes([a, b])),
        [a, b, c, d] => u32::from_le_bytes([a, b, c, d]),
        _ => 0,
    }
}

/// How the bytes of one component become a float: glTF 2.0, section 3.11, "normalized" conversions.
fn number(component: ComponentType, normalised: bool) -> impl Fn(&[u8]) -> f32 {
    move |bytes| {
        let (value, most) = match (component, bytes) {
            (ComponentType::F32, &[a, b, c, d]) => return f32::from_le_bytes([a, b, c, d]),
            (ComponentType::I8, &[a]) => (f32::from(a.cast_signed()), 127.0),
            (ComponentType::U8, &[a]) => (f32::from(a), 255.0),
            (ComponentType::I16, &[a, b]) => (f32::from(i16::from_le_bytes([a, b])), 32_767.0),
            (ComponentType::U16, &[a, b]) => (f32::from(u16::from_le_bytes([a, b])), 65_535.0),
            _ => (0.0, 1.0),
        };
        if normalised { (value / most).max(-1.0) } else { value }
    }
}
