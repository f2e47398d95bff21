//! GPX: any XML, or none.
#![no_main]

use libfuzzer_sys::fuzz_target;
use waterseam_fuzz::{boat, read_and_check};
use waterseam_logs::Kind;

fuzz_target!(|input: &[u8]| {
    let [choice, xml @ ..] = input else { return };
    let boat = boat(*choice);
    read_and_check("card.gpx", xml, &boat);
    // the same behind a start that makes it GPX whatever it is
    let (report, _) = read_and_check("card.gpx", &[b"<gpx>\n".as_slice(), xml].concat(), &boat);
    assert_eq!(report.kind, Some(Kind::Gpx));
});
