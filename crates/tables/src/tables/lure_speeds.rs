//! Which speed over ground gives the speed at the lures, on each course?

crate::table::table! {
    "lure_speeds", "course over ground at a depth of the probe";
    trip_id: Text, "", "Trip.", ANY;
    depth_m: Float, "m", "Mean depth of the probe, below the surface.", DEPTH_READ;
    looks: Int, "", "Minutes on one course with the probe at this depth that it rests on.", at_least(1.0);
    course_deg: Float, "degree", "Course over ground, true.", DIRECTION;
    probe_mps: Float, "m/s", "What the probe shows: the median of the trip at this depth.", NOT_NEGATIVE;
    lure_speed_mps: Float, "m/s", "Speed through the water there: what the probe shows times probe_scale.", NOT_NEGATIVE;
    sog_mps: Maybe<Float>, "m/s", "Speed over ground that gives this speed on this course; missing where the current is too strong for it.", NOT_NEGATIVE;
    sog_se_mps: Maybe<Float>, "m/s", "Standard error of sog_mps.", NOT_NEGATIVE;
    probe_scale: Float, "", "True speed through the water over the probe's reading.", NOT_NEGATIVE;
    probe_scale_se: Float, "", "Standard error of probe_scale.", NOT_NEGATIVE;
    east_mps: Float, "m/s", "Motion of the water at this depth toward east.", ANY;
    north_mps: Float, "m/s", "Motion of the water at this depth toward north.", ANY;
    east_se_mps: Float, "m/s", "Standard error of east_mps.", NOT_NEGATIVE;
    north_se_mps: Float, "m/s", "Standard error of north_mps.", NOT_NEGATIVE;
    shear_east_mps: Maybe<Float>, "m/s", "Motion toward east at this depth minus that at the surface; missing where the current at the surface is not known.", ANY;
    shear_north_mps: Maybe<Float>, "m/s", "The same toward north.", ANY;
    probe_minus_log_mps: Maybe<Float>, "m/s", "What the probe showed minus what the speed log showed, mean over the looks, both as read.", ANY;
    probe_minus_log_se_mps: Maybe<Float>, "m/s", "Standard error of that mean.", NOT_NEGATIVE;
}
