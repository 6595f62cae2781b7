// What of the set lies on one level's sheets, averaged over the pixels that a pixel of the level covers.
uniform sampler2D set_layer;
uniform sampler2D circles;
uniform ivec2 picture_size;
uniform vec2 enter;  // ramp on to this level
uniform vec2 leave;  // and off it
layout(location = 0) out vec4 near;
layout(location = 1) out vec4 far;
layout(location = 2) out vec4 rest;    // everything behind the near sheet
layout(location = 3) out vec4 known;   // share not hidden by what is nearer: for near, far and rest
#include "disc.glsl"
void main() {
    near = far = rest = known = vec4(0.0);
    ivec2 first = ivec2(gl_FragCoord.xy) << LEVEL, last = min(first + (1 << LEVEL), picture_size);
    for (int y = first.y; y < last.y; ++y) {
        for (int x = first.x; x < last.x; ++x) {
            vec4 front = texelFetch(set_layer, ivec2(x, y), 0);
            front *= min(1.0, 1.0 / max(front.a, 1e-6));
            float diameter = texelFetch(circles, ivec2(x, y), 0).r, size = abs(diameter);
            float ahead = diameter < 0.0 ? 1.0 : 0.0;
            float on = past(enter, size), over = past(leave, size);
            near += front * (ahead * (on - over));
            far += front * ((1.0 - ahead) * (on - over));
            rest += front * (1.0 - ahead * on);
            known += 1.0 - front.a * vec4(ahead * over, 1.0 - (1.0 - ahead) * on, ahead * on, 1.0);
        }
    }
    float share = 1.0 / float(max((last.x - first.x) * (last.y - first.y), 1));
    near *= share;
    far *= share;
    rest *= share;
    known *= share;
}
