//! What does one sentence say, in SI units?

use super::air::{Mda, Mwd, Mwv, Vwr};
use super::compass::{Hdg, Heading};
use super::fields::{Fields, LastPosition, SaidTime};
use super::position::{Gga, Gll, Gns, Rmc, Vtg, Wpl, Zda};
use super::reason::Reason;
use super::sentence::{Frame, candidates, usual};
use super::transducers::Xdr;
use super::water::{DepthBelow, Dpt, Mtw, Vbw, Vdr, Vhw};
use crate::observation::{DepthReference, NO_TALKER, North, Talker, Value};

/// A sentence and who sent it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Decoded<'a> {
    /// The sender.
    pub talker: Talker,
    /// What it says.
    pub body: Body<'a>,
}

/// The sentences that this job reads.
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(missing_docs, reason = "the name of the sentence says it, and its type has the description")]
pub enum Body<'a> {
    Rmc(Rmc),
    Gga(Gga<'a>),
    Gll(Gll),
    Gns(Gns<'a>),
    Vtg(Vtg),
    Zda(Zda),
    Wpl(Wpl<'a>),
    Mtw(Mtw),
    Mda(Mda),
    Xdr(Xdr<'a>),
    Dpt(Dpt),
    DepthBelow(DepthBelow),
    Vhw(Vhw),
    Vbw(Vbw),
    Vdr(Vdr),
    Hdg(Hdg),
    Heading(Heading),
    Mwv(Mwv),
    Mwd(Mwd),
    Vwr(Vwr),
    /// Anything else: proprietary and encapsulated sentences, queries, types without a use here.
    NotNeeded,
}

/// Decodes the first sentence in `text`, which may have blanks, a stamp or a TAG block around it.
///
/// Pure: a sentence gives the same whatever came before it. Type and fields after NMEA 0183 as the public
/// description "NMEA Revealed" (E. S. Raymond) documents it.
///
/// # Errors
/// The [`Reason`] for which it can't be used. A sentence of a receiver without a fix is no error.
///
/// # Example
/// ```
/// use waterseam_logs::nmea::{Body, decode};
/// let Ok(Body::Mtw(water)) = decode(b"$YXMTW,17.1,C*15").map(|decoded| decoded.body) else { panic!() };
/// assert_eq!(water.temp_c, Some(17.1));
/// ```
pub fn decode(text: &[u8]) -> Result<Decoded<'_>, Reason> {
    match usual(text) {
        Some((_, frame)) => frame.decode(),
        None => candidates(text).next().ok_or(Reason::NoSentence)?.frame?.decode(),
    }
}

/// Makes something of a sentence that was decoded.
pub(super) trait Maker<'a> {
    /// What it makes.
    type Made;

    /// Makes it. It is compiled for each kind of sentence on its own, so that what is decoded need not be kept in a form
    /// that fits all.
    fn make(self, talker: Talker, body: Body<'a>) -> Self::Made;
}

/// Where values go. Unlike a closure it can be compiled into every place that puts one.
pub(super) trait Put {
    /// Takes a value.
    fn put(&mut self, value: Value);
}

/// Calls a closure for each value.
struct Each<'f, F>(&'f mut F);

impl<F: FnMut(Value)> Put for Each<'_, F> {
    fn put(&mut self, value: Value) {
        self.0(value);
    }
}

/// Keeps what was decoded.
struct Keeper;

impl<'a> Maker<'a> for Keeper {
    type Made = Decoded<'a>;

    fn make(self, talker: Talker, body: Body<'a>) -> Decoded<'a> {
        Decoded { talker, body }
    }
}

impl<'a> Frame<'a> {
    /// Decodes the fields.
    ///
    /// # Errors
    /// As [`decode`].
    pub fn decode(&self) -> Result<Decoded<'a>, Reason> {
        self.decode_for(Keeper, None)
    }

    /// Decodes the fields and makes something of them. A position that is written as the `last` one was is not read again.
    ///
    /// # Errors
    /// As [`decode`].
    #[inline(always)]
    pub(super) fn decode_for<M: Maker<'a>>(
        &self,
        maker: M,
        last: Option<&'a LastPosition>,
    ) -> Result<M::Made, Reason> {
        // an address that starts with P belongs to a maker
        let (b'$', &[first, second, a, b, c]) = (self.start, self.address) else {
            return Ok(maker.make(NO_TALKER, Body::NotNeeded));
        };
        if first == b'P' {
            return Ok(maker.make(NO_TALKER, Body::NotNeeded));
        }
        let (talker, kind) = ([first, second], [a, b, c]);
        let f = &mut Fields::of(self, last);
        if !self.has_checksum && f.n_left() < n_fields_when_whole(kind) {
            return Err(Reason::CutShort);
        }
        Ok(match &kind {
            b"RMC" => maker.make(talker, Body::Rmc(Rmc::read(f)?)),
            b"GGA" => maker.make(talker, Body::Gga(Gga::read(f)?)),
            b"GLL" => maker.make(talker, Body::Gll(Gll::read(f)?)),
            b"GNS" => maker.make(talker, Body::Gns(Gns::read(f)?)),
            b"VTG" => maker.make(talker, Body::Vtg(Vtg::read(f)?)),
            b"ZDA" => maker.make(talker, Body::Zda(Zda::read(f)?)),
            b"WPL" => maker.make(talker, Body::Wpl(Wpl::read(f)?)),
            b"MTW" => maker.make(talker, Body::Mtw(Mtw::read(f)?)),
            b"MDA" => maker.make(talker, Body::Mda(Mda::read(f)?)),
            b"XDR" => maker.make(talker, Body::Xdr(Xdr::read(self.data)?)),
            b"DPT" => maker.make(talker, Body::Dpt(Dpt::read(f)?)),
            b"DBT" => maker.make(talker, Body::DepthBelow(DepthBelow::read(DepthReference::Transducer, f)?)),
            b"DBS" => maker.make(talker, Body::DepthBelow(DepthBelow::read(DepthReference::Surface, f)?)),
            b"DBK" => maker.make(talker, Body::DepthBelow(DepthBelow::read(DepthReference::Keel, f)?)),
            b"VHW" => maker.make(talker, Body::Vhw(Vhw::read(f)?)),
            b"VBW" => maker.make(talker, Body::Vbw(Vbw::read(f)?)),
            b"VDR" => maker.make(talker, Body::Vdr(Vdr::read(f)?)),
            b"HDG" => maker.make(talker, Body::Hdg(Hdg::read(f)?)),
            b"HDT" => maker.make(talker, Body::Heading(Heading::read(North::True, f)?)),
            b"HDM" => maker.make(talker, Body::Heading(Heading::read(North::Magnetic, f)?)),
            b"THS" => maker.make(talker, Body::Heading(Heading::read_with_mode(f)?)),
            b"MWV" => maker.make(talker, Body::Mwv(Mwv::read(f)?)),
            b"MWD" => maker.make(talker, Body::Mwd(Mwd::read(f)?)),
            b"VWR" => maker.make(talker, Body::Vwr(Vwr::read(f)?)),
            _ => maker.make(talker, Body::NotNeeded),
        })
    }
}

/// Fields that the shortest whole form of a sentence has. Without a checksum a sentence that was torn in the
/// middle of a number can only be told by the fields that are missing behind it.
fn n_fields_when_whole(kind: [u8; 3]) -> usize {
    match &kind {
        b"MDA" => 20,
        b"GGA" | b"GNS" => 12,
        b"RMC" => 11,
        b"VTG" | b"VHW" | b"MWD" => 8,
        b"GLL" | b"ZDA" | b"DBT" | b"DBS" | b"DBK" | b"VBW" | b"VDR" => 6,
        b"HDG" | b"MWV" | b"WPL" => 5,
        b"XDR" | b"VWR" => 4,
        b"MTW" | b"DPT" | b"HDT" | b"HDM" | b"THS" => 2,
        _ => 0,
    }
}

impl Body<'_> {
    /// The time that the sentence itself says; `None` of a kind of sentence that has no place for one.
    #[inline(always)]
    pub fn said(&self) -> Option<SaidTime> {
        match self {
            Self::Rmc(rmc) => Some(rmc.said),
            Self::Gga(gga) => Some(gga.said),
            Self::Gll(gll) => Some(gll.said),
            Self::Gns(gns) => Some(gns.said),
            Self::Zda(zda) => Some(zda.said),
            _ => None,
        }
    }

    /// Puts out the values that the job uses.
    ///
    /// # Errors
    /// The reason for which there are none, where the sentence is good but says that its values are not.
    pub fn values(&self, put: &mut impl FnMut(Value)) -> Result<(), Reason> {
        self.put_values(&mut Each(put))
    }

    /// The same into any place.
    #[inline(always)]
    pub(super) fn put_values(&self, put: &mut impl Put) -> Result<(), Reason> {
        match self {
            Self::Rmc(rmc) => return rmc.values(put),
            Self::Gga(gga) => return gga.values(put),
            Self::Gll(gll) => return gll.values(put),
            Self::Gns(gns) => return gns.values(put),
            Self::Vtg(vtg) => return vtg.values(put),
            Self::Xdr(xdr) => return xdr.values(put),
            Self::Dpt(dpt) => return dpt.values(put),
            Self::DepthBelow(depth) => return depth.values(put),
            Self::Vbw(vbw) => return vbw.values(put),
            Self::Heading(heading) => return heading.values(put),
            Self::Mwv(mwv) => return mwv.values(put),
            Self::Wpl(wpl) => wpl.values(put),
            Self::Mtw(mtw) => mtw.values(put),
            Self::Mda(mda) => mda.values(put),
            Self::Vhw(vhw) => vhw.values(put),
            Self::Vdr(vdr) => vdr.values(put),
            Self::Hdg(hdg) => hdg.values(put),
            Self::Mwd(mwd) => mwd.values(put),
            Self::Vwr(vwr) => vwr.values(put),
            Self::Zda(_) | Self::NotNeeded => {}
        }
        Ok(())
    }
}

#[cfg(test)]
mod round_trip;
#[cfg(test)]
mod tests;
