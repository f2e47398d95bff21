//! What did the trip do in each cell that it came through?

crate::table::table! {
    "cell_visits", "cell that the trip ran or fished in";
    trip_id: Text, "", "Trip.", ANY;
    cell: Cell, "", "H3 cell at resolution 9; 0 where positions lie in no cell.", ANY;
    rod_hours: Float, "h", "Hours of one rod with its line in the water there, all rods together; 0 where the boat came through without fishing.", NOT_NEGATIVE;
    run_m: Float, "m", "Way run over ground there; what was run while the position was silent for more than ten minutes belongs to no cell.", NOT_NEGATIVE;
    breaks: Int, "", "Crossings of breaks at the surface there, without those that may be the shadow of a cloud.", NOT_NEGATIVE;
    surface_temp_c: Maybe<Float>, "°C", "Temperature of the surface water there while lines were in it, mean over the rod-hours; missing where nothing was fished or nothing measured.", WATER_TEMP;
}
