//! What the pass over an OBJ file keeps beside the mesh that the library makes of it.

use rustc_hash::FxHashMap;

/// One flag for each number; those never set are false.
#[derive(Debug, Default)]
pub(crate) struct Flags(Vec<u64>);

impl Flags {
    /// Sets the flag of `index`.
    pub(crate) fn set(&mut self, index: usize) {
        let word = index / 64;
        if word >= self.0.len() {
            self.0.resize(word + 1, 0);
        }
        self.0[word] |= 1 << (index % 64);
    }

    /// Clears the flag of `index`.
    fn clear(&mut self, index: usize) {
        if let Some(word) = self.0.get_mut(index / 64) {
            *word &= !(1 << (index % 64));
        }
    }

    /// How many flags are set.
    fn count(&self) -> usize {
        self.0.iter().map(|word| word.count_ones() as usize).sum()
    }

    /// The flag of `index`.
    pub(crate) fn get(&self, index: usize) -> bool {
        self.0.get(index / 64).is_some_and(|word| word >> (index % 64) & 1 == 1)
    }
}

/// A list of the file (positions, UVs or normals) and how faces use it.
#[derive(Debug, Default)]
pub(crate) struct Used {
    /// How many stand in the file so far.
    pub(crate) count: u32,
    /// For each object that the library was told of, one after the other: which entry each number of its
    /// own list is. Those are the entries that its faces use, by first use.
    order: Vec<u32>,
    /// Where each object that has ended ends in `order`.
    ends: Vec<usize>,
    seen: Flags,
    seen_by_object: Flags,
    left_out: Flags,
}

impl Used {
    /// A corner uses entry `index`, from 0.
    pub(crate) fn take(&mut self, index: u32) {
        if !self.seen_by_object.get(index as usize) {
            self.seen_by_object.set(index as usize);
            self.order.push(index);
        }
    }

    /// Corner `corner` uses none. The library gives the very first corner of an object the first entry
    /// instead, so that counts as used.
    fn leave_out(&mut self, corner: u64, first_of_object: bool) {
        if first_of_object {
            self.take(0);
        }
        self.left_out.set(corner as usize);
    }

    fn end_object(&mut self) {
        let start = self.ends.last().copied().unwrap_or(0);
        for &index in &self.order[start..] {
            self.seen_by_object.clear(index as usize);
        }
        if self.count == 0 {
            // There was no first entry to give.
            self.order.truncate(start);
        }
        for &index in &self.order[start..] {
            self.seen.set(index as usize);
        }
        self.ends.push(self.order.len());
    }

    /// True where the corner named none.
    pub(crate) fn is_left_out(&self, corner: usize) -> bool {
        self.left_out.get(corner)
    }

    /// How many entries faces use.
    pub(crate) fn used(&self) -> usize {
        self.seen.count()
    }

    /// How many entries no face uses.
    pub(crate) fn unused(&self) -> usize {
        (self.count as usize).saturating_sub(self.used())
    }

    /// For each object, for each number of its list, the entry's number in file order, counting used entries
    /// only.
    pub(crate) fn in_file_order(&self) -> impl Iterator<Item = Vec<u32>> {
        let before: Vec<u32> = self
            .seen
            .0
            .iter()
            .scan(0, |sum, word| {
                let before = *sum;
                *sum += word.count_ones();
                Some(before)
            })
            .collect();
        let number = move |&index: &u32| {
            let (word, bit) = (index as usize / 64, index % 64);
            before[word] + (self.seen.0[word] & ((1 << bit) - 1)).count_ones()
        };
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts
            .zip(&self.ends)
            .map(move |(start, &end)| self.order[start..end].iter().map(&number).collect())
    }
}

/// Names, each once, by first mention.
#[derive(Debug, Default)]
pub(crate) struct Names {
    /// The names.
    pub(crate) list: Vec<String>,
    numbers: FxHashMap<String, u32>,
}

impl Names {
    /// The number of `name`.
    pub(crate) fn number(&mut self, name: String) -> u32 {
        if let Some(&number) = self.numbers.get(&name) {
            return number;
        }
        let number = self.list.len() as u32;
        self.list.push(name.clone());
        self.numbers.insert(name, number);
        number
    }
}

/// From one face on: what it and those after it belong to.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Run {
    /// The first face.
    pub(crate) face: u32,
    /// Number of the object's name.
    pub(crate) object: Option<u32>,
    /// Number of the group's name.
    pub(crate) group: Option<u32>,
    /// Number of the material's name.
    pub(crate) material: Option<u32>,
}

/// All of it.
#[derive(Debug, Default)]
pub(crate) struct Found {
    pub(crate) positions: Used,
    pub(crate) uvs: Used,
    pub(crate) normals: Used,
    /// How many corners faces have so far.
    pub(crate) corners: u64,
    corners_before_object: u64,
    pub(crate) faces: u32,
    pub(crate) runs: Vec<Run>,
    pub(crate) objects: Names,
    pub(crate) groups: Names,
    pub(crate) materials: Names,
    /// Material libraries and the line that names each.
    pub(crate) libraries: Vec<(String, u64)>,
    pub(crate) lines: u64,
    pub(crate) points: u64,
    pub(crate) free_forms: u64,
    /// Positions that got white for want of a colour.
    pub(crate) uncoloured: u64,
    /// Some name is not UTF-8.
    pub(crate) latin1: bool,
}

impl Found {
    /// `o`: the faces that follow belong to this object, and to no group yet.
    pub(crate) fn start_object(&mut self, name: String) {
        let object = Some(self.objects.number(name));
        self.start(|run| (run.object, run.group) = (object, None));
    }

    /// `g`: the faces that follow belong to this group.
    pub(crate) fn start_group(&mut self, name: String) {
        let group = Some(self.groups.number(name));
        self.start(|run| run.group = group);
    }

    /// `usemtl`: the faces that follow are of this material.
    pub(crate) fn start_material(&mut self, name: String) {
        let material = (!name.is_empty()).then(|| self.materials.number(name));
        self.start(|run| run.material = material);
    }

    /// A corner uses these entries, position, UV and normal from 0; nothing happens and false is returned
    /// where one is not there.
    pub(crate) fn take_all(&mut self, [position, uv, normal]: [u32; 3]) -> bool {
        let there =
            position < self.positions.count && uv < self.uvs.count && normal < self.normals.count;
        if there {
            self.positions.take(position);
            self.uvs.take(uv);
            self.normals.take(normal);
            self.corners += 1;
        }
        there
    }

    /// A corner without UV.
    pub(crate) fn leave_out_uv(&mut self) {
        self.uvs.leave_out(self.corners, self.corners_at_once() == 0);
    }

    /// A corner without normal.
    pub(crate) fn leave_out_normal(&mut self) {
        self.normals.leave_out(self.corners, self.corners_at_once() == 0);
    }

    /// How many corners the library was told of since it was last told of a new object.
    pub(crate) fn corners_at_once(&self) -> u64 {
        self.corners - self.corners_before_object
    }

    /// The library is told of a new object, or of no more.
    pub(crate) fn end_object(&mut self) {
        self.corners_before_object = self.corners;
        self.positions.end_object();
        self.uvs.end_object();
        self.normals.end_object();
    }

    fn start(&mut self, change: impl FnOnce(&mut Run)) {
        let mut run = self.runs.last().copied().unwrap_or_default();
        change(&mut run);
        match self.runs.last_mut() {
            // A run without faces is replaced.
            Some(last) if last.face == self.faces => *last = run,
            _ => {
                run.face = self.faces;
                self.runs.push(run);
            }
        }
    }
}
