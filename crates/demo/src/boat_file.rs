//! What does the captain of *Kittiwake* say about his boat?

use crate::lake::HARBOUR;
use crate::lines::{DOWNRIGGER_LB, DROP_BACK_FT};
use crate::plotter::TRANSDUCER_DEPTH_M;
use crate::scenario::HULL_LAG_S;

/// Text of the boat file (`waterseam.toml`) that goes with every invented trip.
pub fn boat_file() -> String {
    format!(
        r#"# The charter boat Kittiwake out of Alder Harbour on Lake Corvane: an invented boat on an invented lake.

boat = "Kittiwake"
home_port = [{lat:.4}, {lon:.4}]
time_zone = "Etc/GMT+2"        # two hours behind UTC
units = "imperial"
water = "fresh"
date_order = "month-first"

[sensors]
transducer_depth = "{TRANSDUCER_DEPTH_M} m"
surface_temp_lag_s = {HULL_LAG_S:.1}

# preferred temperatures in °F

[species.coho]                 # 10-18 °C: Hayes et al., doi:10.47886/9781934874271.ch32
preferred = [50, 64]

[species.chinook]              # 9-12 °C: Hinke et al. 2005, Marine Ecology Progress Series 285:181-192
preferred = [48, 54]

[species.steelhead]            # 8-14 °C: Hayes et al., as above
preferred = [46, 57]

[species."lake trout"]         # 10.1-12.5 °C: Edsall & Cleland 2000, N. Am. J. Fish. Manage. 20:804-809
preferred = [50, 55]

# rods that are usually out, for days without a gear log

[[spread]]
rod = "port rigger"
method = "downrigger"
weight = {DOWNRIGGER_LB:.0}
leader = {DROP_BACK_FT:.0}
depth = 50
lure = "green spoon"

[[spread]]
rod = "starboard rigger"
method = "downrigger"
weight = {DOWNRIGGER_LB:.0}
leader = {DROP_BACK_FT:.0}
depth = 40
lure = "blue and silver spoon"

[[spread]]
rod = "port diver"
method = "diver"
line_out = 120
lure = "white fly behind paddle"

[[spread]]
rod = "starboard diver"
method = "diver"
line_out = 100
lure = "green fly behind paddle"

[[spread]]
rod = "starboard core"
method = "leadcore"
colors = 6
lure = "orange spoon"

[[spread]]
rod = "port flat line"
method = "flat_line"
line_out = 90
lure = "small red plug"
"#,
        lat = HARBOUR.lat_deg,
        lon = HARBOUR.lon_deg,
    )
}
