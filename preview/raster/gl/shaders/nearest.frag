// Window depth of the nearest of a pixel's samples.
uniform sampler2DMS depths;
layout(location = 0) out float nearest;
void main() {
    nearest = 1.0;
    for (int s = 0; s < SAMPLES; ++s) nearest = min(nearest, texelFetch(depths, ivec2(gl_FragCoord.xy), s).r);
}
