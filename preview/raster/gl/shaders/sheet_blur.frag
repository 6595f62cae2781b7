// One sheet of the set, each place the mean over the disc that it spreads to; what something nearer hides
// counts as unknown and takes the mean of the rest.
uniform sampler2D sheet;       // premultiplied radiance and coverage
uniform sampler2D known;
uniform vec4 which;            // channel of known
uniform sampler2D diameters;   // over the tile grid, and above 0 where the sheet's discs can reach
uniform vec2 tiles_px;         // what that grid spans, picture pixels
uniform vec2 range;            // diameters of this level
uniform ivec2 size;            // of the level
layout(location = 0) out vec4 blurred;
#include "disc.glsl"
void main() {
    ivec2 at = ivec2(gl_FragCoord.xy);
    vec2 tile = textureLod(diameters, gl_FragCoord.xy * STEP / tiles_px, 0.0).rg;
    float r = lattice_radius(clamp(tile.x, range.x, range.y)), reach = r + 0.5;
    vec4 sum = vec4(0.0);
    vec2 share = vec2(0.0);
    int top = max(-int(reach), -at.y), bottom = tile.y > 0.0 ? min(int(reach), size.y - 1 - at.y) : top - 1;
    for (int dy = top; dy <= bottom; ++dy) {
        float dy2 = float(dy * dy);
        int wide = int(sqrt(max(reach * reach - dy2, 0.0)));
        int right = min(wide, size.x - 1 - at.x);
        for (int dx = max(-wide, -at.x); dx <= right; ++dx) {
            float weight = disc_weight(r, sqrt(dy2 + float(dx * dx)));
            ivec2 there = at + ivec2(dx, dy);
            sum += weight * texelFetch(sheet, there, 0);
            share += weight * vec2(dot(texelFetch(known, there, 0), which), 1.0);
        }
    }
    blurred = share.x > 0.01 * share.y ? sum / share.x : vec4(0.0);
    blurred *= min(1.0, 1.0 / max(blurred.a, 1e-6));
}
