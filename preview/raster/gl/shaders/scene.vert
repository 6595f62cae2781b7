layout(location = 0) in vec3 position;
layout(location = 1) in vec3 normal;
layout(location = 2) in vec2 uv0;
layout(location = 3) in vec2 uv1;
layout(location = 4) in vec4 color;

uniform mat4 clip_from_stage;

out vec3 stage_position;
out vec3 stage_normal;
out vec2 part_uv0;
out vec2 part_uv1;
out vec4 part_color;

void main() {
    stage_position = position;
    stage_normal = normal;
    part_uv0 = uv0;
    part_uv1 = uv1;
    part_color = color;
    gl_Position = clip_from_stage * vec4(position, 1.0);
}
