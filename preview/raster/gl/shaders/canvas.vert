layout(location = 0) in vec3 position;
layout(location = 1) in vec3 canvas;   // u, v in LED pixels; facet number from 1
uniform vec2 canvas_size;
out vec3 stage_position;
flat out int facet;
void main() {
    stage_position = position;
    facet = int(canvas.z + 0.5);
    gl_Position = vec4(canvas.xy / canvas_size * 2.0 - 1.0, 0.0, 1.0);
}
