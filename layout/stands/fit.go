package stands

// Fit is how well a delay works for the stands: shares of the seats' weight that hear the loudspeaker within the
// window, ahead of the player (early), or more than the window behind (late), the worst of either in
// milliseconds (late beyond the window's end), and the median lateness. Where a player walks it is over all
// seats and all moments looked at. Served counts a seat in part near the window's edges (see Window), and Echo is the
// share that hears an echo.
type Fit struct {
	Served, Echo, NoEcho      float64 // NoEcho is inside the window, without an echo
	Inside, Early, Late       float64
	WorstEarlyMS, WorstLateMS float64
	MedianMS                  float64
}
