// Wall light out of focus, by each place's own distance. On the levels above the picture's own: what the
// level below takes over. On the picture's own: the finished picture, set over wall over the marker.
uniform sampler2D wall;      // radiance times share on the wall, and the share off it
uniform sampler2D circles;
uniform vec2 leave;          // ramp of diameters on to the level above
uniform ivec2 size;          // of this level
uniform ivec2 picture_size;
#include "disc.glsl"
#ifdef ABOVE
uniform sampler2D above;
#endif
#if LEVEL == 0
uniform sampler2D set_layer;
uniform mat3 stage_from_gl;
uniform vec2 tangents;       // of half the picture, before distortion
#include "display.glsl"
#include "lens.glsl"
#include "marker.glsl"
layout(location = 0) out vec4 picture;
#else
uniform float least;         // diameter from which the level below looks here
layout(location = 0) out vec4 blurred;
#endif

void main() {
    ivec2 at = ivec2(gl_FragCoord.xy);
    vec4 own = texelFetch(wall, at, 0);
#if LEVEL == 0
    float diameter = texelFetch(circles, at, 0).g;
    vec4 front = texelFetch(set_layer, at, 0);
    front.a = min(front.a, 1.0);
    bool sharp = diameter <= SHARP || front.a >= 1.0;
#else
    float diameter = texelFetch(circles, min((at << LEVEL) + (1 << (LEVEL - 1)), picture_size - 1), 0).g;
    bool sharp = diameter < least;
#endif
    float over = 0.0;
#ifdef ABOVE
    over = past(leave, diameter);
#endif
    float r = lattice_radius(diameter), reach = sharp || over >= 1.0 ? -1.0 : r + 0.5;
    vec4 sum = vec4(0.0);
    float total = 0.0;
    int top = max(-int(reach), -at.y), bottom = min(int(reach), size.y - 1 - at.y);
    for (int dy = reach < 0.0 ? 1 : top; dy <= (reach < 0.0 ? 0 : bottom); ++dy) {
        float dy2 = float(dy * dy);
        int wide = int(sqrt(max(reach * reach - dy2, 0.0)));
        int right = min(wide, size.x - 1 - at.x);
        for (int dx = max(-wide, -at.x); dx <= right; ++dx) {
            float weight = disc_weight(r, sqrt(dy2 + float(dx * dx)));
            sum += weight * texelFetch(wall, at + ivec2(dx, dy), 0);
            total += weight;
        }
    }
    vec4 light = total > 0.0 ? sum / total : own;
#ifdef ABOVE
    vec4 wide_light = textureLod(above, gl_FragCoord.xy * 0.5 / vec2(textureSize(above, 0)), 0.0);
    light = over > 0.0 ? mix(light, wide_light, over) : light;
#endif
#if LEVEL == 0
    // The wall's own border stays where it is: light from past it counts as that of the wall beside it.
    float on = 1.0 - light.a, scale = on > 0.0 ? (1.0 - own.a) / on : 0.0;
    float open = 1.0 - front.a, off_wall = own.a;
    vec2 q = undistorted((gl_FragCoord.xy / vec2(picture_size) * 2.0 - 1.0) * tangents);
    vec3 marker = marker_light(gl_FragCoord.xy, float(picture_size.y), stage_from_gl * vec3(q.x, -q.y, -1.0));
    vec3 shown = front.rgb + open * (light.rgb * scale + off_wall * marker);
#ifdef LINEAR
    picture = vec4(shown, open * off_wall);
#else
    picture = vec4(display_code(shown), open * off_wall);
#endif
#else
    blurred = light;
#endif
}
