// Set and people out of focus: every sheet over the ones behind it. Spliced for the sheets there are.
uniform sampler2D set_layer;
uniform sampler2D circles;
//@SHEETS@
layout(location = 0) out vec4 soft;

float past(vec2 ramp, float diameter) { return clamp((diameter - ramp.x) * ramp.y, 0.0, 1.0); }

vec4 enlarged(sampler2D sheet, float step) {
    return textureLod(sheet, gl_FragCoord.xy / step / vec2(textureSize(sheet, 0)), 0.0);
}

void main() {
    ivec2 at = ivec2(gl_FragCoord.xy);
    vec4 front = texelFetch(set_layer, at, 0), sheet;
    float diameter = texelFetch(circles, at, 0).r, size = abs(diameter), ahead = diameter < 0.0 ? 1.0 : 0.0;
    float on = past(FIRST_RAMP, size), hidden;
    soft = vec4(0.0);
    //@FAR@
    sheet = front * ((1.0 - on) / max(1.0 - min(front.a, 1.0) * ahead * on, 0.01));
    soft = sheet + (1.0 - sheet.a) * soft;
    //@NEAR@
}
