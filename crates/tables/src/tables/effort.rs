//! Where, how deep and in what water was each rod fished, minute by minute?

crate::table::table! {
    "effort", "minute of a rod spell";
    trip_id: Word, "", "Trip.", ANY;
    time: Time, "", "Start of the minute.", ANY;
    lat: Float, "degree", "Latitude in that minute, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude in that minute, WGS 84, east positive.", LONGITUDE;
    cell: Cell, "", "H3 cell at resolution 9.", ANY;
    spell_id: Text, "", "Rod spell, as in the table rod_spells.", ANY;
    rod_hours: Float, "h", "Part of the minute in which the line was in the water.", NOT_NEGATIVE;
    depth_m: Maybe<Float>, "m", "Depth of the lure below the surface.", DEPTH;
    temp_at_depth_c: Maybe<Float>, "°C", "Water temperature at the depth of the lure.", WATER_TEMP;
    surface_temp_c: Maybe<Float>, "°C", "Water temperature at the surface.", WATER_TEMP;
    stw_mps: Maybe<Float>, "m/s", "Speed through the water, as read; negative going astern.", ANY;
    lure_speed_mps: Maybe<Float>, "m/s", "Speed of the water past the lure, by a probe within 5 m of its depth.", ANY;
    break_distance_m: Maybe<Float>, "m", "Distance to the nearest break of the trip.", NOT_NEGATIVE;
    break_side: Maybe<Text>, "", "Side of that break.", Domain::Words(&["warm", "cold"]);
    above_thermocline_m: Maybe<Float>, "m", "Height of the lure above the thermocline; negative below it.", ANY;
    sun_elevation_deg: Float, "degree", "Elevation of the sun's centre above the horizon, without refraction.", ELEVATION;
}
