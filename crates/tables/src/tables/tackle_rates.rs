//! Which lures and rods earn their bites, and which only ran in good water?

crate::table::table! {
    "tackle_rates", "lure or rod, over one trip or several";
    trip_id: Text, "", "Trip.", ANY;
    what: Text, "", "What is compared.", Domain::Words(&["lure", "rod"]);
    name: Text, "", "Its name as it was first written.", ANY;
    species: Text, "", "Species, lower case; * for all together.", ANY;
    rod_hours: Float, "h", "Rod-hours with it.", NOT_NEGATIVE;
    bites: Int, "", "Bites on it.", NOT_NEGATIVE;
    expected_bites: Float, "", "Bites that the average one would have had at the same depths and temperatures, on the same trips.", NOT_NEGATIVE;
    ratio: Float, "", "Its rate over that of the average one in the same water; thin evidence keeps it near 1.", NOT_NEGATIVE;
    ratio_low: Float, "", "Lower end of the 90 % interval of the ratio.", NOT_NEGATIVE;
    ratio_high: Float, "", "Upper end of the 90 % interval of the ratio.", NOT_NEGATIVE;
}
