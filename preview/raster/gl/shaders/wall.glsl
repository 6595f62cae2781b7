// Light of the LED surfaces: an ordered stack of projected layers over the outer image.
// Loops that run once at most stand for "if": software drivers skip a loop no lane enters, but run
// both sides of a branch.
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

// Share of the pixel inside the layer's border (x), and inside it but not on its edge line (y).
vec2 layer_cover(Point p, vec4 sides[4], float edge_width) {
    vec2 cover = vec2(1.0);
    for (int i = 0; i < 4; ++i) {
        // In-surface distance: the plane's normal shortened to its part along the facet.
        float along = sqrt(max(1.0 - pow(dot(sides[i].xyz, p.normal), 2.0), 1e-8));
        float d = dot(sides[i], vec4(p.at, 1.0)) / along;
        float footprint = max((abs(dot(sides[i].xyz, p.dx - p.at)) + abs(dot(sides[i].xyz, p.dy - p.at))) / along,
                              1e-7);
        cover = min(cover, clamp(vec2(d, d - edge_width) / footprint + 0.5, 0.0, 1.0));
    }
    return cover;
}

vec2 layer_uv(mat4 uv_from_stage, vec3 at) {
    vec4 h = uv_from_stage * vec4(at, 1.0);
    return h.xy / h.w;
}

vec3 layer_light(Point p, sampler2D image, mat4 uv_from_stage) {
    vec2 size = vec2(textureSize(image, 0));
    vec2 uv = layer_uv(uv_from_stage, p.at);
    vec2 sx = (layer_uv(uv_from_stage, p.dx) - uv) * size, sy = (layer_uv(uv_from_stage, p.dy) - uv) * size;
    // Between the longer and the shorter axis of the footprint: sharp without crawling.
    float area = abs(sx.x * sy.y - sx.y * sy.x), longest = max(dot(sx, sx), dot(sy, sy));
    float lod = 0.25 * (log2(max(area, 1e-9)) + log2(max(longest, 1e-9)));
    return textureLod(image, uv, lod < 0.05 ? 0.0 : lod).rgb;
}
