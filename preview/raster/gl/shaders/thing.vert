layout(location = 0) in vec3 position;
layout(location = 1) in float thing;
uniform mat4 clip_from_stage;
flat out int thing_number;
void main() {
    thing_number = int(thing + 0.5);
    gl_Position = clip_from_stage * vec4(position, 1.0);
}
