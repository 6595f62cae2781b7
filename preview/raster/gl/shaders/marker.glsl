// What stands for the studio past LED surfaces and set. Needs exposure_gain of display.glsl.
uniform float marked;          // 1: mark it; 0: a dark hall
// ``at`` in picture pixels, the picture's height, and a sightline in stage axes.
vec3 marker_light(vec2 at, float height, vec3 sightline) {
    // Diagonal stripes no set has, fixed on screen whatever the exposure.
    float stripe = fract((at.x + at.y) / (height / 22.0));
    float ramp = 22.0 / height;
    float bright = clamp(min(stripe, 0.5 - stripe) / ramp + 0.5, 0.0, 1.0);
    vec3 stripes = mix(vec3(0.035, 0.03, 0.05), vec3(0.16, 0.05, 0.20), bright);
    // Or, for an eye instead of a camera, a dark hall: its floor a little lighter, fading with distance.
    float down = -normalize(sightline).z;
    vec3 hall = vec3(0.010, 0.0105, 0.0115) + vec3(0.030) * clamp(down * 3.0, 0.0, 1.0);
    return mix(hall, stripes, marked) / exposure_gain;
}
