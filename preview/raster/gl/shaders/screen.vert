// One triangle over the whole target, no buffers.
uniform float depth;
void main() {
    vec2 corner = vec2((gl_VertexID & 1) * 4 - 1, (gl_VertexID & 2) * 2 - 1);
    gl_Position = vec4(corner, depth, 1.0);
}
