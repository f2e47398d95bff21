//! How did the water move along the track?

crate::table::table! {
    "currents", "window along the track";
    trip_id: Word, "", "Trip.", ANY;
    time: Time, "", "Middle of the window.", ANY;
    lat: Float, "degree", "Latitude at the middle, WGS 84, north positive.", LATITUDE;
    lon: Float, "degree", "Longitude at the middle, WGS 84, east positive.", LONGITUDE;
    distance_m: Float, "m", "Distance of the middle along the track from the trip's start.", NOT_NEGATIVE;
    set_deg: Maybe<Float>, "degree", "Direction toward which the water moves, true; missing where it does not move.", DIRECTION;
    drift_mps: Float, "m/s", "Speed of the water over ground.", NOT_NEGATIVE;
    east_mps: Float, "m/s", "Motion of the water toward east.", ANY;
    north_mps: Float, "m/s", "Motion of the water toward north.", ANY;
    east_se_mps: Float, "m/s", "Standard error of the motion toward east.", NOT_NEGATIVE;
    north_se_mps: Float, "m/s", "Standard error of the motion toward north.", NOT_NEGATIVE;
    method: Text, "", "Where it comes from: heading and speed log, courses without a compass, legs there and back without a log either, or an instrument's report.", Domain::Words(&["heading", "course_circle", "reciprocal_legs", "reported"]);
    probe_speed_mps: Maybe<Float>, "m/s", "Speed through the water that the probe showed in the window, mean of what it showed while the boat kept her course and the probe its depth.", ANY;
    probe_depth_m: Maybe<Float>, "m", "Mean depth of the probe then, below the surface.", DEPTH_READ;
    probe_minus_log_mps: Maybe<Float>, "m/s", "Speed at the probe minus speed through the water at the hull then, both calibrated where they could be.", ANY;
    probe_minus_log_se_mps: Maybe<Float>, "m/s", "Standard error of that difference.", NOT_NEGATIVE;
}
