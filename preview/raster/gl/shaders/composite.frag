// One camera picture for each stack: set over wall light over what lies past the LED.
// Drawn twice: TOP_ONLY settles most pixels cheaply, the second pass is kept by the depth test to the
// rest (software drivers run both sides of a branch, and every loop once; only the depth test skips).
// WALL_ALONE: the wall's light everywhere, as if nothing stood before it, and what lies past it unmarked.
#include "wall.glsl"
#include "display.glsl"
#include "lens.glsl"
#include "marker.glsl"

uniform samplerBuffer facets;  // four texels a facet: plane, canvas u row, canvas v row, (headroom, surface)
uniform isampler2DMS facet_ids;
uniform sampler2D set_layer;   // premultiplied radiance and coverage of set and people
uniform ivec2 raster_size;     // what of both is in use
uniform vec2 raster_tangents;  // what they span
uniform vec3 pupil;
uniform mat3 stage_from_gl;
uniform vec2 tangents;         // of half the picture, before distortion
uniform vec2 picture_size;

#ifdef SIGHTLINES
layout(location = 0) out vec4 sightline;      // canvas u, v; metres from the pupil; cosine to the normal
layout(location = 1) out ivec2 sightline_id;  // surface from 1 (-1: a back), set coverage in 1/65535
#endif
#ifdef CIRCLES
uniform sampler2D nearest_depth;  // window depth of the nearest sample
uniform vec2 depth_range;         // nearest and farthest axial distance of window depth, metres
uniform vec2 blur;                // diameter at infinity, picture pixels; axial distance in focus, metres
layout(location = 0) out vec4 set_here;  // the set layer, through the lens
layout(location = 1) out vec2 circle;    // disc diameters of set (below 0 in front of focus) and wall
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

void main() {
    // Picture row 0 is the top and is stored first, so nothing is flipped on the way out.
    vec2 q = (gl_FragCoord.xy / picture_size * 2.0 - 1.0) * tangents;
    vec2 qx = vec2(2.0 * tangents.x / picture_size.x, 0.0), qy = vec2(0.0, 2.0 * tangents.y / picture_size.y);
#ifdef DISTORTED
    q = undistorted(q);
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
#if !defined(SIGHTLINES) && !defined(CIRCLES)
    int different = 0;
    for (int s = 1; s < SAMPLES; ++s) different |= texelFetch(facet_ids, texel, s).r ^ first;
#ifdef WALL_ALONE
    bool at_edge = different != 0;
#else
    bool at_edge = different != 0 && open > 0.0;
#endif
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
#elif defined(CIRCLES)
    float depth = 1.0;
#ifdef DISTORTED
    for (int i = 0; i < 4; ++i) {
        ivec2 corner = ivec2(floor(raster_at - 0.5)) + ivec2(i & 1, i >> 1);
        depth = min(depth, texelFetch(nearest_depth, clamp(corner, ivec2(0), raster_size - 1), 0).r);
    }
#else
    depth = texelFetch(nearest_depth, texel, 0).r;
#endif
    float axial = depth_range.x * depth_range.y
        / (depth_range.y - depth * (depth_range.y - depth_range.x));
    float wall = 0.0;
    if (first > 0) {
        vec4 plane = texelFetch(facets, 4 * first - 4);
        vec3 d = stage_from_gl * vec3(q.x, -q.y, -1.0);
        wall = abs(blur.x * (1.0 + blur.y * dot(plane.xyz, d) / dot(plane, vec4(pupil, 1.0))));
    }
    set_here = front;
    circle = vec2(blur.x * (1.0 - blur.y / axial), wall);
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
    vec3 marker = marker_light(gl_FragCoord.xy, picture_size.y, stage_from_gl * vec3(q.x, -q.y, -1.0));
    //@WRITE@
#endif
}
