//! The demo's recorded edits: the harbour bell painted by gestures, as a hand would, and written down.
//!
//! Each material goes from a base over variation to age. The colours of metals lie near the measured
//! reflectance of copper and iron; all else is invented.

mod bronze;
mod chance;
mod hand;
mod hemp;
mod iron;
mod oak;
mod places;
mod verdigris;

use document::MaterialId;
use hand::Hand;

/// The edit list as JSON, recorded on the model in `obj` and `mtl`.
pub(crate) fn edit_list(obj: &[u8], mtl: &[u8]) -> Result<String, String> {
    let mut hand = Hand::new(obj, mtl)?;
    for (name, paint) in [
        ("bronze", bronze::paint as fn(&mut Hand, MaterialId) -> Result<(), String>),
        ("iron", iron::paint),
        ("oak", oak::paint),
        ("hemp", hemp::paint),
    ] {
        let material = hand.material(name)?;
        paint(&mut hand, material)?;
    }
    hand.recorded()
}
