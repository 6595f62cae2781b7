// Over each tile, what is out of focus in front of and behind the plane in focus: sum of coverage, sum of coverage times
// diameter, smallest and largest diameter. And the wall's smallest and largest.
uniform sampler2D set_layer;
uniform sampler2D circles;
uniform ivec2 picture_size;
layout(location = 0) out vec4 near;
layout(location = 1) out vec4 far;
layout(location = 2) out vec2 wall;
void main() {
    near = far = vec4(0.0, 0.0, 1e9, 0.0);
    wall = vec2(1e9, 0.0);
    ivec2 first = ivec2(gl_FragCoord.xy) * TILE, last = min(first + TILE, picture_size);
    for (int y = first.y; y < last.y; ++y) {
        for (int x = first.x; x < last.x; ++x) {
            vec2 diameter = texelFetch(circles, ivec2(x, y), 0).rg;
            float cover = texelFetch(set_layer, ivec2(x, y), 0).a, size = abs(diameter.x);
            float there = cover > 0.002 && size > SHARP ? 1.0 : 0.0, ahead = diameter.x < 0.0 ? there : 0.0;
            near.xy += ahead * cover * vec2(1.0, size);
            near.zw = mix(near.zw, vec2(min(near.z, size), max(near.w, size)), ahead);
            far.xy += (there - ahead) * cover * vec2(1.0, size);
            far.zw = mix(far.zw, vec2(min(far.z, size), max(far.w, size)), there - ahead);
            wall = vec2(min(wall.x, diameter.y), max(wall.y, diameter.y));
        }
    }
}
