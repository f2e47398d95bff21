//! Where was the boat each second, and what did its instruments say?

crate::table::table! {
    "track", "second of the trip that has a position";
    trip_id: Text, "", "Trip.", ANY;
    time: Time, "", "The second, strictly increasing within a trip.", ANY;
    lat: Float, "degree", "Latitude, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude, WGS 84, east positive.", LONGITUDE;
    position_qc: Code, "", "QARTOD flag of the position.", QARTOD;
    distance_m: Float, "m", "Distance along the track from the trip's start.", NOT_NEGATIVE;
    sog_mps: Maybe<Float>, "m/s", "Speed over ground.", NOT_NEGATIVE;
    cog_deg: Maybe<Float>, "degree", "Course over ground, true.", DIRECTION;
    stw_mps: Maybe<Float>, "m/s", "Speed through the water, as read; negative going astern.", ANY;
    heading_deg: Maybe<Float>, "degree", "Heading, true.", DIRECTION;
    water_depth_m: Maybe<Float>, "m", "Depth of the water below the surface.", DEPTH, flag water_depth_qc;
    surface_temp_c: Maybe<Float>, "°C", "Temperature at the hull, corrected for the sensor's offset and lag.", WATER_TEMP, flag surface_temp_qc;
    surface_temp_raw_c: Maybe<Float>, "°C", "Temperature at the hull as read.", WATER_TEMP, flag surface_temp_qc;
    surface_temp_qc: Code, "", "QARTOD flag of the temperature at the hull.", QARTOD;
    probe_depth_m: Maybe<Float>, "m", "Depth of the probe below the surface.", DEPTH_READ;
    probe_temp_c: Maybe<Float>, "°C", "Temperature at the probe.", WATER_TEMP, flag probe_temp_qc;
    probe_speed_mps: Maybe<Float>, "m/s", "Speed through the water at the probe, as read.", ANY;
    wind_speed_mps: Maybe<Float>, "m/s", "Speed of the true wind.", NOT_NEGATIVE;
    wind_from_deg: Maybe<Float>, "degree", "Direction that the true wind blows from, true.", DIRECTION;
    activity: Text, "", "What the boat is doing.", Domain::Words(&["run", "troll", "drift", "stopped"]);
    sun_elevation_deg: Float, "degree", "Elevation of the sun's centre above the horizon, without refraction.", ELEVATION;
    cell: Cell, "", "H3 cell at resolution 9.", ANY;
    water_depth_qc: Code, "", "QARTOD flag of the depth of the water.", QARTOD;
    probe_temp_qc: Code, "", "QARTOD flag of the temperature at the probe.", QARTOD;
}
