//! How were the speed logs and the compass wrong?

crate::table::table! {
    "calibrations", "speed log of the trip";
    trip_id: Text, "", "Trip.", ANY;
    speed_log: Text, "", "Speed log: its talker, and its file where several logs were read together.", ANY;
    is_used: Truth, "", "Whether the track, the currents and the bites rest on this log.", ANY;
    source: Maybe<Text>, "", "What the calibration rests on; missing where nothing determines it.", Domain::Words(&["this_trip", "earlier_trips", "both"]);
    trips_used: Int, "", "Trips that it rests on, this one with them.", NOT_NEGATIVE;
    is_changed: Truth, "", "True where this trip and the earlier ones differ by more than their errors: the instruments were changed or set anew, and the earlier trips are not used.", ANY;
    log_factor: Maybe<Float>, "", "True speed through the water over the log's reading, at the trip's median reading.", NOT_NEGATIVE;
    log_factor_se: Maybe<Float>, "", "Standard error of log_factor.", NOT_NEGATIVE;
    log_scale: Maybe<Float>, "", "True speed through the water is the log's reading times this, plus log_offset_mps; where that is missing, times this at the trip's median reading; missing where the trips leave it open.", ANY;
    log_scale_se: Maybe<Float>, "", "Standard error of log_scale.", NOT_NEGATIVE;
    log_offset_mps: Maybe<Float>, "m/s", "Added to the scaled reading; missing where the trips leave it open: what it may be counts in log_scale_se.", ANY;
    log_offset_se_mps: Maybe<Float>, "m/s", "Standard error of log_offset_mps.", NOT_NEGATIVE;
    deviation_a_deg: Maybe<Float>, "degree", "Added to the compass whatever the heading (coefficient A): true heading h is the reading plus A + B sin h + C cos h + D sin 2h + E cos 2h.", ANY;
    deviation_a_se_deg: Maybe<Float>, "degree", "Standard error of A.", NOT_NEGATIVE;
    deviation_b_deg: Maybe<Float>, "degree", "Coefficient B.", ANY;
    deviation_b_se_deg: Maybe<Float>, "degree", "Standard error of B.", NOT_NEGATIVE;
    deviation_c_deg: Maybe<Float>, "degree", "Coefficient C.", ANY;
    deviation_c_se_deg: Maybe<Float>, "degree", "Standard error of C.", NOT_NEGATIVE;
    deviation_d_deg: Maybe<Float>, "degree", "Coefficient D.", ANY;
    deviation_d_se_deg: Maybe<Float>, "degree", "Standard error of D.", NOT_NEGATIVE;
    deviation_e_deg: Maybe<Float>, "degree", "Coefficient E.", ANY;
    deviation_e_se_deg: Maybe<Float>, "degree", "Standard error of E.", NOT_NEGATIVE;
    leeway_part: Maybe<Float>, "", "Sideways drift through the water as a part of the wind felt across the boat.", ANY;
    leeway_part_se: Maybe<Float>, "", "Standard error of leeway_part.", NOT_NEGATIVE;
    lag_s: Maybe<Float>, "s", "How much later than the velocity over ground log and compass show a change.", ANY;
    lag_se_s: Maybe<Float>, "s", "Standard error of lag_s.", NOT_NEGATIVE;
    mean_east_mps: Maybe<Float>, "m/s", "Mean motion of the water toward east, by this log, as it reads where nothing calibrates it; missing where it gives none.", ANY;
    mean_north_mps: Maybe<Float>, "m/s", "Mean motion of the water toward north, by this log.", ANY;
    mean_se_mps: Maybe<Float>, "m/s", "Standard error of each of the two.", NOT_NEGATIVE;
    carried: Maybe<Text>, "", "All that is carried to the boat's next trip, as numbers between commas: terms, their covariance, lag.", ANY;
}
