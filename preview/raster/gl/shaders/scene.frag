// glTF 2.0 metallic-roughness shading in linear light. Every material switch is a define.
in vec3 stage_position;
in vec3 stage_normal;
in vec2 part_uv0;
in vec2 part_uv1;
in vec4 part_color;

uniform vec3 eye;
uniform vec4 base_color;
uniform float metallic;
uniform float roughness;
uniform vec3 emissive;
uniform float alpha_cutoff;

#ifdef BASE_TEXTURE
uniform sampler2D base_texture;
uniform mat3 base_uv;
#endif
#ifdef METAL_TEXTURE
uniform sampler2D metal_texture;
uniform mat3 metal_uv;
#endif
#ifdef NORMAL_TEXTURE
uniform sampler2D normal_texture;
uniform mat3 normal_uv;
uniform float normal_scale;
#endif
#ifdef OCCLUSION_TEXTURE
uniform sampler2D occlusion_texture;
uniform mat3 occlusion_uv;
uniform float occlusion_strength;
#endif
#ifdef EMISSIVE_TEXTURE
uniform sampler2D emissive_texture;
uniform mat3 emissive_uv;
#endif

#if LIGHTS > 0
uniform vec4 light_position[LIGHTS];   // xyz, w: 0 directional, 1 point or spot
uniform vec4 light_color[LIGHTS];      // rgb times intensity, w: 1 / range^2 (0 endless)
uniform vec4 light_direction[LIGHTS];  // the way the light travels, w: 1 spot
uniform vec2 light_cone[LIGHTS];       // cosines of the inner and outer half angle
#endif
#ifdef SHADOW
uniform sampler2D shadow_moments;
uniform mat4 shadow_from_stage;
uniform float shadow_exponent;
#endif
uniform vec3 irradiance[9];  // spherical harmonics of the sky's light, divided by pi

layout(location = 0) out vec4 radiance;

const float PI = 3.14159265359;

#ifdef NORMAL_TEXTURE
vec3 mapped_normal(vec3 normal, vec2 uv) {
    // Cotangent frame from screen derivatives: needs no stored tangents.
    vec3 along_x = dFdx(stage_position), along_y = dFdy(stage_position);
    vec2 uv_x = dFdx(uv), uv_y = dFdy(uv);
    vec3 across_x = cross(along_y, normal), across_y = cross(normal, along_x);
    vec3 tangent = across_x * uv_x.x + across_y * uv_y.x;
    vec3 bitangent = across_x * uv_x.y + across_y * uv_y.y;
    float size = max(dot(tangent, tangent), dot(bitangent, bitangent));
    if (!(size > 0.0)) return normal;
    float scale = inversesqrt(size) * sign(dot(cross(along_x, along_y), normal));
    vec3 texel = texture(normal_texture, uv).xyz * 2.0 - 1.0;
    // Texture v runs down; glTF's +Y of the normal points up.
    return normalize(tangent * (texel.x * normal_scale * scale)
                     - bitangent * (texel.y * normal_scale * scale) + normal * texel.z);
}
#endif

vec3 sky_light(vec3 n) {
    return max(irradiance[0] + irradiance[1] * n.y + irradiance[2] * n.z + irradiance[3] * n.x
               + irradiance[4] * (n.x * n.y) + irradiance[5] * (n.y * n.z)
               + irradiance[6] * (3.0 * n.z * n.z - 1.0) + irradiance[7] * (n.x * n.z)
               + irradiance[8] * (n.x * n.x - n.y * n.y), vec3(0.0));
}

#ifdef SHADOW
float lit_share(vec3 position, vec3 normal) {
    vec3 at = (shadow_from_stage * vec4(position + normal * 0.02, 1.0)).xyz * 0.5 + 0.5;
    if (any(lessThan(at, vec3(0.0))) || any(greaterThan(at, vec3(1.0)))) return 1.0;
    vec2 moments = texture(shadow_moments, at.xy).rg;
    float warped = exp(shadow_exponent * (at.z - 1.0));
    float variance = max(moments.y - moments.x * moments.x, 1e-5 * warped * warped);
    float gap = warped - moments.x;
    float share = gap <= 0.0 ? 1.0 : variance / (variance + gap * gap);
    return clamp((share - 0.25) / 0.75, 0.0, 1.0);  // the low tail is light leaking through
}
#endif

void main() {
    vec4 albedo = base_color * part_color;
#ifdef BASE_TEXTURE
    albedo *= texture(base_texture, (base_uv * vec3(BASE_SET, 1.0)).xy);
#endif
    float alpha = 1.0;
#ifdef MASK
    // Alpha to coverage: one pixel of ramp around the cut-off keeps cut-out edges smooth.
    alpha = clamp((albedo.a - alpha_cutoff) / max(fwidth(albedo.a), 1e-4) + 0.5, 0.0, 1.0);
    if (alpha <= 0.0) discard;
#endif
#ifdef BLEND
    alpha = albedo.a;
#endif
    vec3 glow = emissive;
#ifdef EMISSIVE_TEXTURE
    glow *= texture(emissive_texture, (emissive_uv * vec3(EMISSIVE_SET, 1.0)).xy).rgb;
#endif

#ifdef UNLIT
    vec3 light = albedo.rgb + glow;
#else
    vec3 normal = normalize(gl_FrontFacing ? stage_normal : -stage_normal);
    vec3 smooth_normal = normal;
#ifdef NORMAL_TEXTURE
    normal = mapped_normal(normal, (normal_uv * vec3(NORMAL_SET, 1.0)).xy);
#endif
    float metal = metallic, rough = roughness;
#ifdef METAL_TEXTURE
    vec2 orm = texture(metal_texture, (metal_uv * vec3(METAL_SET, 1.0)).xy).gb;
    rough *= orm.x;
    metal *= orm.y;
#endif
    rough = clamp(rough, 0.045, 1.0);
    float occlusion = 1.0;
#ifdef OCCLUSION_TEXTURE
    occlusion = mix(1.0, texture(occlusion_texture, (occlusion_uv * vec3(OCCLUSION_SET, 1.0)).xy).r,
                    occlusion_strength);
#endif
    vec3 to_eye = normalize(eye - stage_position);
    float facing = max(dot(normal, to_eye), 1e-3);
    vec3 diffuse = albedo.rgb * (1.0 - metal);
    vec3 specular = mix(vec3(0.04), albedo.rgb, metal);
    float a2 = rough * rough * rough * rough;

    // Ambient: sky irradiance, and its mirror image through a fitted environment BRDF
    // (Karis 2014, "Physically Based Shading on Mobile", after Lazarov 2013).
    vec4 r = rough * vec4(-1.0, -0.0275, -0.572, 0.022) + vec4(1.0, 0.0425, 1.04, -0.04);
    float a004 = min(r.x * r.x, exp2(-9.28 * facing)) * r.x + r.y;
    vec2 brdf = vec2(-1.04, 1.04) * a004 + r.zw;
    vec3 light = occlusion * (diffuse * sky_light(normal)
                              + (specular * brdf.x + brdf.y) * sky_light(reflect(-to_eye, normal)));
#if LIGHTS > 0
    for (int i = 0; i < LIGHTS; ++i) {
        vec3 to_light = -light_direction[i].xyz;
        float reach = 1.0;
        if (light_position[i].w > 0.5) {
            vec3 way = light_position[i].xyz - stage_position;
            float d2 = max(dot(way, way), 1e-4);
            to_light = way * inversesqrt(d2);
            float window = clamp(1.0 - pow(d2 * light_color[i].w, 2.0), 0.0, 1.0);
            reach = window / d2;  // KHR_lights_punctual: inverse square, windowed by range
            if (light_direction[i].w > 0.5) {
                float c = dot(-to_light, light_direction[i].xyz);
                float s = clamp((c - light_cone[i].y) / max(light_cone[i].x - light_cone[i].y, 1e-4), 0.0, 1.0);
                reach *= s * s;
            }
        }
        float incident = dot(normal, to_light);
        float lit = max(incident, 0.0) * reach;
#ifdef SHADOW
        if (i == SHADOW) lit *= lit_share(stage_position, smooth_normal);
#endif
        vec3 half_way = normalize(to_light + to_eye);
        float nh = max(dot(normal, half_way), 0.0);
        float nl = max(incident, 1e-3);
        float d = (nh * nh) * (a2 - 1.0) + 1.0;
        float visibility = 0.5 / mix(2.0 * nl * facing, nl + facing, rough * rough);
        float f = pow(1.0 - max(dot(to_eye, half_way), 0.0), 5.0);
        vec3 fresnel = specular + (1.0 - specular) * f;
        vec3 mirror = fresnel * (min(a2 / (PI * d * d), 64.0) * visibility);
        light += (diffuse * (1.0 - fresnel) / PI + mirror) * light_color[i].rgb * lit;
    }
#endif
    light += glow;
#endif
#ifdef BLEND
    radiance = vec4(min(light, vec3(6.0e4)) * alpha, alpha);
#else
    radiance = vec4(min(light, vec3(6.0e4)), alpha);
#endif
}
