//! Where was the boat each second, and what did its instruments say?

crate::table::table! {
    "track", "second of the trip that has a position";
    trip_id: Word, "", "Trip.", ANY;
    time: Time, "", "The second, strictly increasing within a trip.", ANY;
    lat: Float, "degree", "Latitude, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude, WGS 84, east positive.", LONGITUDE;
    position_qc: Code, "", "QARTOD flag of the position, all tests together: 1 pass, 2 not evaluated, 3 suspect, 4 fail, 9 missing. Tests: location, flat line, rate of change, spike.", QARTOD;
    distance_m: Float, "m", "Distance along the track from the trip's start.", NOT_NEGATIVE;
    sog_mps: Maybe<Float>, "m/s", "Speed over ground.", NOT_NEGATIVE;
    cog_deg: Maybe<Float>, "degree", "Course over ground, true.", DIRECTION;
    stw_mps: Maybe<Float>, "m/s", "Speed through the water, as read; negative going astern; what failed is missing.", ANY;
    stw_across_mps: Maybe<Float>, "m/s", "Speed through the water across the hull, to starboard, as read; missing where the log has no second axis.", ANY;
    heading_deg: Maybe<Float>, "degree", "Heading, true; what failed is missing.", DIRECTION;
    water_depth_m: Maybe<Float>, "m", "Depth of the water below the surface.", DEPTH, flag water_depth_qc;
    surface_temp_c: Maybe<Float>, "°C", "Temperature at the hull, corrected for the sensor's bias and lag where the boat file states them or the trip determines them (trips: hull_temp_bias_method, hull_temp_lag_method).", WATER_TEMP, flag surface_temp_qc;
    surface_temp_raw_c: Maybe<Float>, "°C", "Temperature at the hull as read.", WATER_TEMP, flag surface_temp_qc;
    surface_temp_qc: Code, "", "QARTOD flag of the temperature at the hull as read, all tests together: 1 pass, 2 not evaluated, 3 suspect, 4 fail, 9 missing. Tests: gross range, spike, rate of change, flat line, attenuated signal.", QARTOD;
    probe_depth_m: Maybe<Float>, "m", "Depth of the probe below the surface.", DEPTH_READ;
    probe_temp_c: Maybe<Float>, "°C", "Temperature at the probe.", WATER_TEMP, flag probe_temp_qc;
    probe_speed_mps: Maybe<Float>, "m/s", "Speed through the water at the probe, as read.", ANY;
    wind_speed_mps: Maybe<Float>, "m/s", "Speed of the true wind.", NOT_NEGATIVE;
    wind_from_deg: Maybe<Float>, "degree", "Direction that the true wind blows from, true.", DIRECTION;
    activity: Word, "", "What the boat is doing.", Domain::Words(&["run", "troll", "drift", "stopped"]);
    sun_elevation_deg: Float, "degree", "Elevation of the sun's centre above the horizon, without refraction.", ELEVATION;
    cell: Cell, "", "H3 cell at resolution 9.", ANY;
    water_depth_qc: Code, "", "QARTOD flag of the depth of the water: as surface_temp_qc.", QARTOD;
    probe_temp_qc: Code, "", "QARTOD flag of the temperature at the probe: as surface_temp_qc; what failed is missing in the track.", QARTOD;
    sog_qc: Maybe<Code>, "", "QARTOD flag of the speed over ground: as surface_temp_qc; where the receiver gave none that is good, that of the positions it rests on.", QARTOD;
    stw_qc: Maybe<Code>, "", "QARTOD flag of the speed through the water: as surface_temp_qc.", QARTOD;
    heading_qc: Maybe<Code>, "", "QARTOD flag of the heading: as surface_temp_qc.", QARTOD;
}
