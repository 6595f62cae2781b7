// Exponential variance shadow moments of a depth map, blurred along one axis.
// Source: Lauritzen and McCool, "Layered Variance Shadow Maps", Graphics Interface 2008.
uniform sampler2D source;
uniform ivec2 axis;
uniform int radius;
uniform float exponent;
layout(location = 0) out vec2 moments;
void main() {
    ivec2 at = ivec2(gl_FragCoord.xy), last = textureSize(source, 0) - 1;
    vec2 sum = vec2(0.0);
    float total = 0.0;
    for (int i = -radius; i <= radius; ++i) {
        float weight = exp(-2.0 * float(i * i) / float(radius * radius + 1));
        vec4 texel = texelFetch(source, clamp(at + axis * i, ivec2(0), last), 0);
#ifdef FROM_DEPTH
        float warped = exp(exponent * (texel.r - 1.0));
        sum += weight * vec2(warped, warped * warped);
#else
        sum += weight * texel.rg;
#endif
        total += weight;
    }
    moments = sum / total;
}
