// One camera picture for each stack: set over wall light over what lies past the LED.
// Drawn twice: TOP_ONLY settles most pixels cheaply, the second pass is kept by the depth test to the
// rest (software drivers run both sides of a branch, and every loop once; only the depth test skips).
#include "wall.glsl"
#include "display.glsl"

uniform samplerBuffer facets;  // four texels a facet: plane, canvas u row, canvas v row, (headroom, surface)
uniform isampler2DMS facet_ids;
uniform sampler2D set_layer;   // premultiplied radiance and coverage of set and people
uniform ivec2 raster_size;     // what of both is in use
uniform vec2 raster_tangents;  // what they span
uniform vec3 pupil;
uniform mat3 stage_from_gl;
uniform vec2 tangents;         // of half the picture, before distortion
uniform vec2 picture_size;
uniform float marked;          // 1: mark what lies past the LED surfaces; 0: a dark hall
#ifdef DISTORTED
uniform float lens[5];         // k1 k2 p1 p2 k3, OpenCV's order
#endif

#ifdef SIGHTLINES
layout(location = 0) out vec4 sightline;      // canvas u, v; metres from the pupil; cosine to the normal
layout(location = 1) out ivec2 sightline_id;  // surface from 1 (-1: a back), set coverage in 1/65535
#endif
#ifdef TOP_ONLY
bool complete = true;
#endif
//@LAYERS@

vec3 facet_hit(vec4 plane, vec2 plane_point) {
    vec3 d = stage_from_gl * vec3(plane_point.x, -plane_point.y, -1.0);
    return pupil - d * (dot(plane, vec4(pupil, 1.0)) / dot(plane.xyz, d));
}

Point facet_point(int facet, vec2 q, vec2 qx, vec2 qy) {
    vec4 plane = texelFetch(facets, 4 * facet - 4);
    Point p;
    p.at = facet_hit(plane, q);
    p.dx = facet_hit(plane, q + qx);
    p.dy = facet_hit(plane, q + qy);
    p.normal = plane.xyz;
    p.headroom = texelFetch(facets, 4 * facet - 1).x;
    return p;
}

#ifdef DISTORTED
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

void main() {
    // Picture row 0 is the top and is stored first, so nothing is flipped on the way out.
    vec2 q = (gl_FragCoord.xy / picture_size * 2.0 - 1.0) * tangents;
    vec2 qx = vec2(2.0 * tangents.x / picture_size.x, 0.0), qy = vec2(0.0, 2.0 * tangents.y / picture_size.y);
#ifdef DISTORTED
    vec2 seen = q;
    for (int i = 0; i < 5; ++i) q -= inverse(distort_slope(q)) * (distort(q) - seen);
    mat2 undo = inverse(distort_slope(q));
    qx = undo * qx;
    qy = undo * qy;
    vec2 raster_at = (q / raster_tangents * 0.5 + 0.5) * vec2(raster_size);
    ivec2 texel = clamp(ivec2(raster_at), ivec2(0), raster_size - 1);
    vec4 front = textureLod(set_layer, raster_at / vec2(textureSize(set_layer, 0)), 0.0);
#else
    ivec2 texel = ivec2(gl_FragCoord.xy);
    vec4 front = texelFetch(set_layer, texel, 0);
#endif
    front.a = min(front.a, 1.0);
    float open = 1.0 - front.a;

    int first = texelFetch(facet_ids, texel, 0).r;
#ifndef SIGHTLINES
    int different = 0;
    for (int s = 1; s < SAMPLES; ++s) different |= texelFetch(facet_ids, texel, s).r ^ first;
    bool at_edge = different != 0 && open > 0.0;
    float off_wall = 0.0;
#endif

#ifdef SIGHTLINES
    vec4 line = vec4(0.0);
    int surface = 0;
    if (first > 0) {
        int base = 4 * (first - 1);
        vec4 plane = texelFetch(facets, base);
        vec3 at = facet_hit(plane, q);
        vec4 here = vec4(at, 1.0);
        line = vec4(dot(texelFetch(facets, base + 1), here), dot(texelFetch(facets, base + 2), here),
                    distance(at, pupil), abs(dot(normalize(pupil - at), plane.xyz)));
        surface = int(texelFetch(facets, base + 3).y + 1.5);
    }
    sightline = line;
    sightline_id = ivec2(first < 0 ? -1 : surface, int(front.a * 65535.0 + 0.5));
#else
    //@CLEAR@
    if (first > 0) {
        Point p = facet_point(first, q, qx, qy);
        //@ADD@
    } else {
        off_wall = 1.0;
    }
#ifdef TOP_ONLY
    // Kept depth: 0 where this pixel is finished, 1 where the second pass has to look again.
    gl_FragDepth = complete && !at_edge ? 0.0 : 1.0;
#else
    for (int s = at_edge ? 1 : SAMPLES; s < SAMPLES; ++s) {
        int facet = texelFetch(facet_ids, texel, s).r;
        if (facet > 0) {
            Point p = facet_point(facet, q, qx, qy);
            //@ADD@
        } else {
            off_wall += 1.0;
        }
    }
    float weight = at_edge ? 1.0 / float(SAMPLES) : 1.0;
    off_wall *= weight;
    //@SHARE@
#endif
    // Off the wall: diagonal stripes no set has, fixed on screen whatever the exposure.
    float stripe = fract((gl_FragCoord.x + gl_FragCoord.y) / (picture_size.y / 22.0));
    float ramp = 22.0 / picture_size.y;
    float bright = clamp(min(stripe, 0.5 - stripe) / ramp + 0.5, 0.0, 1.0);
    vec3 stripes = mix(vec3(0.035, 0.03, 0.05), vec3(0.16, 0.05, 0.20), bright);
    // Or, for an eye instead of a camera, a dark hall: its floor a little lighter, fading with distance.
    float down = -(stage_from_gl * normalize(vec3(q.x, -q.y, -1.0))).z;
    vec3 hall = vec3(0.010, 0.0105, 0.0115) + vec3(0.030) * clamp(down * 3.0, 0.0, 1.0);
    vec3 marker = mix(hall, stripes, marked) / exposure_gain;
    //@WRITE@
#endif
}
