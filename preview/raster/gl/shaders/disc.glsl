// Even discs on a pixel lattice.
const float STEP = float(1 << LEVEL);  // picture pixels a pixel of this level

// Share of a disc's light that has moved past a ramp of diameters (start, 1 / width).
float past(vec2 ramp, float diameter) { return clamp((diameter - ramp.x) * ramp.y, 0.0, 1.0); }

// Radius, in pixels of this level, whose lattice weights spread light as far as the true disc does, with
// what halving and enlarging a level adds taken off. Fitted to second moments, to 2 % from 2 pixels on.
float lattice_radius(float diameter) {
    float r = 0.5 * diameter / STEP;
#if LEVEL == 0
    return max(sqrt(max(r * r - 0.45, 0.0)), 0.5 + 0.4 * (r - 0.5));
#else
    return min(sqrt(max(r * r - 1.4, 0.36)), 24.0);
#endif
}

// Weight of a pixel that far away: the rim is one pixel wide.
float disc_weight(float r, float away) { return clamp(r + 0.5 - away, 0.0, 1.0); }
