// Radiance of the sky in a stage direction. Twin of preview.stage.sky.sky_radiance.
uniform vec3 sky_zenith;
uniform vec3 sky_horizon;
uniform vec3 sky_ground;
#ifdef SKY_IMAGE
uniform sampler2D sky_image;
uniform float sky_pan;  // radians
#endif

vec3 sky_radiance(vec3 direction, float lod) {
#ifdef SKY_IMAGE
    float pan = atan(-direction.x, direction.y) - sky_pan;
    vec2 uv = vec2(0.5 - pan / 6.28318530718, acos(clamp(direction.z, -1.0, 1.0)) / 3.14159265359);
    return textureLod(sky_image, uv, lod).rgb;
#else
    vec3 above = mix(sky_horizon, sky_zenith, sqrt(max(direction.z, 0.0)));
    return mix(above, sky_ground, smoothstep(0.0, 0.12, -direction.z));
#endif
}
