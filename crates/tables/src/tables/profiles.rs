//! How warm was the water at each depth?

crate::table::table! {
    "profiles", "depth bin of a cast or of a stretch of towed data";
    trip_id: Text, "", "Trip.", ANY;
    profile_id: Text, "", "Profile: one cast, or one stretch of towed data.", ANY;
    time: Time, "", "Middle of the profile.", ANY;
    lat: Float, "degree", "Latitude at that time, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude at that time, WGS 84, east positive.", LONGITUDE;
    depth_m: Float, "m", "Middle of the bin, below the surface.", DEPTH;
    temp_c: Float, "°C", "Mean temperature of the bin.", WATER_TEMP, flag temp_qc;
    temp_qc: Code, "", "QARTOD flag of the temperature.", QARTOD;
    samples: Int, "", "Samples in the bin.", at_least(1.0);
}
