// Light of the LED surfaces: an ordered stack of projected layers over the outer image.
struct Point {
    vec3 at;      // on the LED surface, stage metres
    vec3 dx, dy;  // where the next pixel to the right, and below, meets the same facet's plane
    vec3 normal;
    float headroom;
};

uniform vec3 outer_eye;
uniform samplerCube outer_image;
uniform float outer_size;

vec3 outer_light(Point p) {
    vec3 d = p.at - outer_eye;
    float step = max(length(p.dx - p.at), length(p.dy - p.at)) / max(length(d), 1e-6);
    vec3 cube = vec3(d.x, d.y, d.z);
    return textureLod(outer_image, cube, log2(max(step * outer_size * 0.5, 1e-6))).rgb;
}

// Where a layer's image lands: uv over the drawn image, the next pixels' steps in image pixels, and the
// share of this pixel inside the image's border.
struct Landing {
    vec2 uv;
    vec2 sx, sy;
    float cover;
};

vec2 layer_uv(mat4 uv_from_stage, vec3 at) {
    vec4 h = uv_from_stage * vec4(at, 1.0);
    return h.xy / h.w;
}

Landing land(Point p, mat4 uv_from_stage, vec2 size) {
    Landing l;
    vec4 h = uv_from_stage * vec4(p.at, 1.0);
    l.uv = h.xy / h.w;
    vec2 ux = layer_uv(uv_from_stage, p.dx) - l.uv, uy = layer_uv(uv_from_stage, p.dy) - l.uv;
    vec2 inside = (0.5 - abs(l.uv - 0.5)) / max(abs(ux) + abs(uy), vec2(1e-9)) + 0.5;
    l.cover = h.w > 0.0 ? clamp(min(inside.x, inside.y), 0.0, 1.0) : 0.0;
    l.sx = ux * size;
    l.sy = uy * size;
    return l;
}

vec3 layer_light(Landing l, sampler2D image) {
    // Between the longer and the shorter axis of the footprint: sharp without crawling.
    float area = abs(l.sx.x * l.sy.y - l.sx.y * l.sy.x), longest = max(dot(l.sx, l.sx), dot(l.sy, l.sy));
    float lod = 0.25 * log2(max(area * longest, 1e-12));
    return textureLod(image, l.uv, lod < 0.05 ? 0.0 : lod).rgb;
}

// Share of the pixel farther than a width from every border plane, measured along the facet.
float off_edge_line(Point p, vec4 sides[4], float width) {
    float share = 1.0;
    for (int i = 0; i < 4; ++i) {
        // The plane's normal shortened to its part along the facet gives in-surface metres.
        float tilt = dot(sides[i].xyz, p.normal), along = sqrt(max(1.0 - tilt * tilt, 1e-8));
        float d = dot(sides[i], vec4(p.at, 1.0)) - width * along;
        float step = abs(dot(sides[i].xyz, p.dx - p.at)) + abs(dot(sides[i].xyz, p.dy - p.at));
        share = min(share, clamp(d / max(step, 1e-7) + 0.5, 0.0, 1.0));
    }
    return share;
}
