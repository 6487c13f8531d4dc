#include "sender.h"

/* A line being written. `left` keeps room for the zero byte; `broken` once anything did not fit or is forbidden. */
struct writer {
    char *start;
    char *next;
    size_t left;
    int broken;
};

static void put(struct writer *w, char c)
{
    if (w->left < 2) {
        w->broken = 1;
        return;
    }
    *w->next++ = c;
    w->left--;
}

static void put_text(struct writer *w, const char *text)
{
    while (*text)
        put(w, *text++);
}

static void put_whole(struct writer *w, uint32_t value)
{
    char digits[10];
    int count = 0;
    do {
        digits[count++] = (char)('0' + value % 10u);
        value /= 10u;
    } while (value);
    while (count)
        put(w, digits[--count]);
}

/* A field: comma, then value / 10^places as a decimal number; nothing after the comma if it was not measured. */
static void put_field(struct writer *w, int32_t value, int places, int32_t low, int32_t high)
{
    uint32_t magnitude, unit = 1;
    int i;
    put(w, ',');
    if (value == WIRE_NOT_MEASURED)
        return;
    if (value < low || value > high) {
        w->broken = 1;
        return;
    }
    if (value < 0)
        put(w, '-');
    magnitude = value < 0 ? (uint32_t)(-value) : (uint32_t)value;
    for (i = 0; i < places; i++)
        unit *= 10u;
    put_whole(w, magnitude / unit);
    if (places) {
        put(w, '.');
        for (unit /= 10u; unit; unit /= 10u)
            put(w, (char)('0' + magnitude / unit % 10u));
    }
}

static void put_word(struct writer *w, const char *const *words, unsigned count, unsigned which)
{
    put(w, ',');
    if (which < count)
        put_text(w, words[which]);
    else
        w->broken = 1;
}

static void put_role(struct writer *w, enum wire_role role)
{
    static const char *const words[] = {"drogue", "main", "none"};
    put_word(w, words, 3, (unsigned)role);
}

static void put_channel(struct writer *w, struct wire_channel channel)
{
    static const char *const words[] = {"ready", "open", "fired", "off"};
    put_word(w, words, 4, (unsigned)channel.state);
    put(w, ',');
    if (channel.state == WIRE_FIRED)
        put_whole(w, channel.fired_t_ms);
}

static void put_name(struct writer *w, const char *name)
{
    size_t i;
    put(w, ',');
    for (i = 0; name[i]; i++) {
        char c = name[i];
        int allowed = (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
        if (!allowed || i == 16) {
            w->broken = 1;
            return;
        }
        put(w, c);
    }
    if (i == 0)
        w->broken = 1;
}

static struct writer begin(const struct wire_sender *sender, char *line, size_t size, const char *kind, uint32_t t_ms)
{
    struct writer w;
    w.start = line;
    w.next = line;
    w.left = size < WIRE_LINE_SIZE ? size : WIRE_LINE_SIZE;
    w.broken = 0;
    put(&w, '@');
    put_text(&w, kind);
    put(&w, ',');
    put_whole(&w, sender->seq);
    put(&w, ',');
    put_whole(&w, t_ms);
    return w;
}

/* CRC-16/IBM-3740: polynomial 0x1021, start 0xFFFF, nothing reflected, no final xor. */
static uint16_t crc16(const char *from, const char *to)
{
    uint16_t crc = 0xFFFFu;
    int bit;
    for (; from < to; from++) {
        crc = (uint16_t)(crc ^ (uint16_t)((uint16_t)(unsigned char)*from << 8));
        for (bit = 0; bit < 8; bit++)
            crc = (uint16_t)(crc & 0x8000u ? ((uint32_t)crc << 1) ^ 0x1021u : (uint32_t)crc << 1);
    }
    return crc;
}

static size_t finish(struct writer *w, struct wire_sender *sender, size_t size)
{
    static const char hex[] = "0123456789ABCDEF";
    uint16_t crc = crc16(w->start + 1, w->next);
    int shift;
    put(w, '*');
    for (shift = 12; shift >= 0; shift -= 4)
        put(w, hex[(crc >> shift) & 0xFu]);
    put(w, '\n');
    if (w->broken) {
        if (size)
            *w->start = '\0';
        return 0;
    }
    *w->next = '\0';
    sender->seq++;
    return (size_t)(w->next - w->start);
}

size_t wire_id(struct wire_sender *sender, char *line, size_t size, uint32_t t_ms, const char *name,
               uint16_t sample_period_ms, enum wire_role channel_1, enum wire_role channel_2, int32_t main_altitude_dm)
{
    struct writer w = begin(sender, line, size, "ID", t_ms);
    put_text(&w, ",1");
    put_name(&w, name);
    put_field(&w, sample_period_ms, 0, 1, 60000);
    put_role(&w, channel_1);
    put_role(&w, channel_2);
    put_field(&w, main_altitude_dm, 1, 0, 200000);
    return finish(&w, sender, size);
}

size_t wire_smp(struct wire_sender *sender, char *line, size_t size, uint32_t t_ms, int32_t pressure_dpa,
                int32_t temperature_cc, int32_t axial_cmps2)
{
    struct writer w = begin(sender, line, size, "SMP", t_ms);
    put_field(&w, pressure_dpa, 1, 10000, 1200000);
    put_field(&w, temperature_cc, 2, -6000, 12500);
    put_field(&w, axial_cmps2, 2, -500000, 500000);
    return finish(&w, sender, size);
}

size_t wire_chn(struct wire_sender *sender, char *line, size_t size, uint32_t t_ms, int32_t battery_mv,
                struct wire_channel channel_1, struct wire_channel channel_2)
{
    struct writer w = begin(sender, line, size, "CHN", t_ms);
    put_field(&w, battery_mv, 0, 0, 60000);
    put_channel(&w, channel_1);
    put_channel(&w, channel_2);
    return finish(&w, sender, size);
}

size_t wire_fix(struct wire_sender *sender, char *line, size_t size, uint32_t t_ms, int32_t latitude_e7,
                int32_t longitude_e7, int32_t height_dm, int32_t satellites)
{
    struct writer w = begin(sender, line, size, "FIX", t_ms);
    put_field(&w, latitude_e7, 7, -900000000, 900000000);
    put_field(&w, longitude_e7, 7, -1800000000, 1800000000);
    put_field(&w, height_dm, 1, -10000, 1000000);
    put_field(&w, satellites, 0, 0, 255);
    return finish(&w, sender, size);
}
