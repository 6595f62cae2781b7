#include "sky.glsl"
uniform mat3 stage_from_gl;
uniform vec2 tangents;      // half extents of the target at unit distance
uniform vec2 target_size;   // pixels; row 0 is the top
uniform float sky_lod;
layout(location = 0) out vec4 radiance;
void main() {
    vec2 at = (gl_FragCoord.xy / target_size * 2.0 - 1.0) * tangents;
    vec3 direction = normalize(stage_from_gl * vec3(at.x, -at.y, -1.0));
    radiance = vec4(min(sky_radiance(direction, sky_lod), vec3(6.0e4)), 1.0);
}
