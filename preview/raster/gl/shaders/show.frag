// A linear image, flat or all round, as a picture.
#include "display.glsl"
uniform vec2 picture_size;
#ifdef ALL_ROUND
uniform samplerCube image;
#else
uniform sampler2D image;
#endif
uniform float lod;
layout(location = 0) out vec4 picture;
void main() {
    vec2 uv = gl_FragCoord.xy / picture_size;
#ifdef ALL_ROUND
    // Equirectangular: the middle column looks along +Y, left of it pans left; top row looks up.
    float pan = (0.5 - uv.x) * 6.28318530718, down = uv.y * 3.14159265359;
    vec3 light = textureLod(image, vec3(-sin(pan) * sin(down), cos(pan) * sin(down), cos(down)), lod).rgb;
#else
    vec3 light = textureLod(image, uv, lod).rgb;
#endif
#ifdef LINEAR
    picture = vec4(light, 0.0);
#else
    picture = vec4(display_code(light), 0.0);
#endif
}
