//! What bit, and in what water?

crate::table::table! {
    "bites", "bite";
    trip_id: Text, "", "Trip.", ANY;
    bite_id: Text, "", "Bite.", ANY;
    time: Time, "", "When.", ANY;
    time_se_s: Maybe<Float>, "s", "Standard error of the time.", NOT_NEGATIVE;
    lat: Float, "degree", "Latitude, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude, WGS 84, east positive.", LONGITUDE;
    species: Maybe<Text>, "", "Species, lower case.", ANY;
    outcome: Maybe<Text>, "", "What became of the fish.", Domain::Words(&["landed", "released", "lost"]);
    weight_kg: Maybe<Float>, "kg", "Weight of the fish.", NOT_NEGATIVE;
    length_m: Maybe<Float>, "m", "Length of the fish.", NOT_NEGATIVE;
    rod: Maybe<Text>, "", "Rod.", ANY;
    spell_id: Maybe<Text>, "", "Rod spell, as in the table rod_spells.", ANY;
    lure: Maybe<Text>, "", "Lure.", ANY;
    depth_m: Maybe<Float>, "m", "Depth of the lure below the surface.", DEPTH;
    depth_se_m: Maybe<Float>, "m", "Standard error of the depth.", NOT_NEGATIVE;
    depth_source: Maybe<Text>, "", "Where the depth comes from: written down, the counter's line out, the captain's table of a diver, or computed.", DEPTH_SOURCE;
    temp_at_depth_c: Maybe<Float>, "°C", "Water temperature at the depth of the lure.", WATER_TEMP;
    temp_at_depth_se_c: Maybe<Float>, "°C", "Standard error of that temperature, with what the error of the depth makes of it.", NOT_NEGATIVE;
    surface_temp_c: Maybe<Float>, "°C", "Water temperature at the surface.", WATER_TEMP;
    water_depth_m: Maybe<Float>, "m", "Depth of the water.", DEPTH;
    sog_mps: Maybe<Float>, "m/s", "Speed over ground.", NOT_NEGATIVE;
    stw_mps: Maybe<Float>, "m/s", "Speed through the water, as read; negative going astern.", ANY;
    lure_speed_mps: Maybe<Float>, "m/s", "Speed of the water past the lure, by a probe within 5 m of its depth, mean of the minute around.", ANY;
    set_deg: Maybe<Float>, "degree", "Direction toward which the water moves, true.", DIRECTION;
    drift_mps: Maybe<Float>, "m/s", "Speed of the water over ground.", NOT_NEGATIVE;
    break_distance_m: Maybe<Float>, "m", "Distance to the nearest break of the trip.", NOT_NEGATIVE;
    break_side: Maybe<Text>, "", "Side of that break.", Domain::Words(&["warm", "cold"]);
    above_thermocline_m: Maybe<Float>, "m", "Depth of the thermocline minus depth of the lure; negative below the thermocline.", ANY;
    sun_elevation_deg: Float, "degree", "Elevation of the sun's centre above the horizon, without refraction.", ELEVATION;
    cell: Cell, "", "H3 cell at resolution 9.", ANY;
    note: Maybe<Text>, "", "What was noted in words.", ANY;
}
