layout(location = 0) in vec3 position;
uniform mat4 clip_from_stage;
void main() { gl_Position = clip_from_stage * vec4(position, 1.0); }
