// Linear light to BT.709-coded signal. Twin of preview.picture.display.
uniform float exposure_gain;
uniform vec3 knee;  // point, curvature, log scale; curvature 0: no knee

vec3 display_code(vec3 linear) {
    vec3 x = max(linear * exposure_gain, vec3(0.0));
    if (knee.y > 0.0)
        x = mix(x, knee.x + knee.z * log(1.0 + knee.y * max(x - knee.x, vec3(0.0))),
                vec3(greaterThan(x, vec3(knee.x))));
    x = min(x, vec3(1.0));
    return mix(4.5 * x, 1.099 * pow(max(x, vec3(1e-6)), vec3(0.45)) - 0.099,
               vec3(greaterThanEqual(x, vec3(0.018))));
}
