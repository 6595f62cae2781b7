// A lens's distortion of the unit picture plane, and its slope. Twin of preview.camera.distortion.
#ifdef DISTORTED
uniform float lens[5];         // k1 k2 p1 p2 k3, OpenCV's order
vec2 distort(vec2 q) {
    float r2 = dot(q, q), radial = 1.0 + r2 * (lens[0] + r2 * (lens[1] + r2 * lens[4]));
    float xy = 2.0 * q.x * q.y;
    return q * radial + vec2(lens[2] * xy + lens[3] * (r2 + 2.0 * q.x * q.x),
                             lens[2] * (r2 + 2.0 * q.y * q.y) + lens[3] * xy);
}
mat2 distort_slope(vec2 q) {
    float r2 = dot(q, q), radial = 1.0 + r2 * (lens[0] + r2 * (lens[1] + r2 * lens[4]));
    float slope = 2.0 * (lens[0] + r2 * (2.0 * lens[1] + 3.0 * r2 * lens[4]));
    float xy = slope * q.x * q.y + 2.0 * lens[2] * q.x + 2.0 * lens[3] * q.y;
    return mat2(radial + slope * q.x * q.x + 2.0 * lens[2] * q.y + 6.0 * lens[3] * q.x, xy,
                xy, radial + slope * q.y * q.y + 6.0 * lens[2] * q.y + 2.0 * lens[3] * q.x);
}
#endif
// Where the sightline that lands at q leaves the undistorted plane.
vec2 undistorted(vec2 q) {
#ifdef DISTORTED
    vec2 seen = q;
    for (int i = 0; i < 5; ++i) q -= inverse(distort_slope(q)) * (distort(q) - seen);
#endif
    return q;
}
