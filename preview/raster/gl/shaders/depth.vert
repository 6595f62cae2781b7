layout(location = 0) in vec3 position;
layout(location = 2) in vec2 uv0;
layout(location = 3) in vec2 uv1;
layout(location = 4) in vec4 color;
uniform mat4 clip_from_stage;
out vec2 part_uv0;
out vec2 part_uv1;
out float part_alpha;
void main() {
    part_uv0 = uv0;
    part_uv1 = uv1;
    part_alpha = color.a;
    gl_Position = clip_from_stage * vec4(position, 1.0);
}
