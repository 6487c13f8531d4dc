/*
 * Lines of the altimeter's wire, version 1, for the firmware of a home-made altimeter. See PROTOCOL.md.
 *
 * C99, no memory allocation, no printf, no floating point. Copy sender.h and sender.c into the firmware (MIT license).
 *
 *     static struct wire_sender sender;            // counts the lines; starts at zero
 *     char line[WIRE_LINE_SIZE];
 *     if (wire_smp(&sender, line, sizeof line, millis(), 1013124, 1862, WIRE_NOT_MEASURED)) radio_print(line);
 *
 * Each function writes one line, ended by LF and a zero byte, and returns its length without the zero byte.
 * It returns 0, writes an empty string and counts nothing if the line does not fit or holds a value the wire forbids.
 * Values are whole numbers of a small unit: 1862 hundredths of a degree are sent as 18.62.
 */
#ifndef WIRE_SENDER_H
#define WIRE_SENDER_H

#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* 120 bytes of frame, LF and the zero byte. */
#define WIRE_LINE_SIZE 122

/* Give this for a value that was not measured: its field is left empty. */
#define WIRE_NOT_MEASURED INT32_MIN

enum wire_role { WIRE_DROGUE, WIRE_MAIN, WIRE_NONE };
enum wire_state { WIRE_READY, WIRE_OPEN, WIRE_FIRED, WIRE_OFF };

struct wire_sender {
    uint16_t seq; /* of the next line */
};

struct wire_channel {
    enum wire_state state;
    uint32_t fired_t_ms; /* sent only when the state is WIRE_FIRED */
};

/* Who we are. `name` is 1 to 16 of A-Z a-z 0-9 - _ ; main_altitude_dm is tenths of a metre above the pad. */
size_t wire_id(struct wire_sender *sender, char *line, size_t size, uint32_t t_ms, const char *name,
               uint16_t sample_period_ms, enum wire_role channel_1, enum wire_role channel_2, int32_t main_altitude_dm);

/* A sample: tenths of a pascal, hundredths of a degC, hundredths of a m/s^2 (+ toward the nose, +981 at rest). */
size_t wire_smp(struct wire_sender *sender, char *line, size_t size, uint32_t t_ms, int32_t pressure_dpa,
                int32_t temperature_cc, int32_t axial_cmps2);

/* Battery in mV and both channels. */
size_t wire_chn(struct wire_sender *sender, char *line, size_t size, uint32_t t_ms, int32_t battery_mv,
                struct wire_channel channel_1, struct wire_channel channel_2);

/* Position: ten-millionths of a degree (+ north, + east), tenths of a metre above the sea, satellites used. */
size_t wire_fix(struct wire_sender *sender, char *line, size_t size, uint32_t t_ms, int32_t latitude_e7,
                int32_t longitude_e7, int32_t height_dm, int32_t satellites);

#ifdef __cplusplus
}
#endif

#endif
