// Half the size, each pixel the mean of the four it covers.
uniform sampler2D image;
uniform ivec2 size;  // of the image
layout(location = 0) out vec4 halved;
void main() {
    ivec2 at = 2 * ivec2(gl_FragCoord.xy), next = min(at + 1, size - 1);
    halved = 0.25 * (texelFetch(image, at, 0) + texelFetch(image, next, 0)
                     + texelFetch(image, ivec2(next.x, at.y), 0) + texelFetch(image, ivec2(at.x, next.y), 0));
}
