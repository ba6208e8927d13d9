#include "support/made_table.h"

#include "table/document.h"
#include "table/reader.h"

namespace guardband::support {
namespace {

constexpr const char* file = R"([format]
id = "lamp"
name = "Lamp <cassette> & reel"
aliases = ["LC"]
standard = { text = "none, <invented>", source = "memory", standing = "from memory" }
introduced = { printed = "1981", source = "memory", standing = "from memory", note = "about; check at the log book" }
signal = { text = "analogue", source = "practice", standing = "common practice" }
recording = { text = "helical", source = "memory", standing = "from memory" }
head_motion = { text = "with the tape", source = "memory", standing = "from memory" }
[tape]
width = { printed = "0.5", unit = "in", source = "lamp-log", standing = "published" }
thickness = { printed = "20", unit = "µm", low = "12", source = "lamp-log", standing = "published", where = "page 3" }
coating = { unknown = "nobody looked" }
[[shell]]
id = "lamp"
name = "lamp shell"
width = { printed = "188", unit = "mm", source = "lamp-log", standing = "published" }
depth = { printed = "104", unit = "mm", source = "memory", standing = "from memory" }
height = { unknown = "nobody looked" }
[drum]
diameter = { printed = "62", unit = "mm", tolerance = "0.01", source = "lamp-log", standing = "published" }
heads = { printed = "2", source = "memory", standing = "from memory" }
wrap = { printed = "180", unit = "deg", source = "memory", standing = "from memory" }
azimuth = { printed = "6", unit = "deg", source = "memory", standing = "from memory" }
[[system]]
id = "525/60"
drum_speed = { exact = "30000/1001", unit = "rev/s", source = "memory", standing = "from memory" }
track_angle_still = { unknown = "nobody looked" }
track_angle_moving = { unknown = "nobody looked" }
luma_carrier_sync = { printed = "3.4", unit = "MHz", source = "memory", standing = "from memory" }
luma_carrier_white = { printed = "4.4", unit = "MHz", source = "memory", standing = "from memory" }
colour_process = { unknown = "no colour" }
colour_under_carrier = { unknown = "no colour" }
linear_sound_track_width = { unknown = "nobody looked" }
control_track_rate = { unknown = "nobody looked" }
head_switch_before_sync = { unknown = "nobody looked" }
luma_bandwidth = { printed = "3.0", unit = "MHz", source = "lamp-log", standing = "published" }
luma_snr = { printed = "42-45", unit = "dB", source = "lamp-log", standing = "published" }
sound_bandwidth = { unknown = "nobody looked" }
[[system]]
id = "625/50"
drum_speed = { printed = "1500", unit = "rev/min", source = "memory", standing = "from memory" }
track_angle_still = { unknown = "nobody looked" }
track_angle_moving = { unknown = "nobody looked" }
luma_carrier_sync = { printed = "3.8", unit = "MHz", source = "lamp-log", standing = "published" }
luma_carrier_white = { printed = "4.8", unit = "MHz", source = "lamp-log", standing = "published" }
colour_process = { unknown = "no colour" }
colour_under_carrier = { exact = "(40 + 1/8) * line_rate", unit = "Hz", source = "computed", standing = "computed" }
linear_sound_track_width = { unknown = "nobody looked" }
control_track_rate = { exact = "field_rate / 2", unit = "Hz", source = "memory", standing = "from memory" }
head_switch_before_sync = { unknown = "nobody looked" }
luma_bandwidth = { printed = "3.0", unit = "MHz", source = "lamp-log", standing = "published" }
luma_snr = { printed = "42-45", unit = "dB", source = "lamp-log", standing = "published" }
sound_bandwidth = { unknown = "nobody looked" }
[[mode]]
system = "525/60"
id = "SP"
tape_speed = { printed = "33.35", unit = "mm/s", tolerance = "0.5 %", source = "lamp-log", standing = "published" }
track_pitch = { printed = "58", unit = "µm", source = "lamp-log", standing = "published" }
writing_speed = { unknown = "nobody looked" }
[[mode]]
system = "625/50"
id = "SP"
tape_speed = { printed = "2.339", unit = "cm/s", tolerance = "0.5 %", source = "lamp-log", standing = "published" }
track_pitch = { printed = "49", unit = "µm", source = "lamp-log", standing = "published", also = [
    { printed = "58", unit = "µm", source = "memory", standing = "from memory", why = "that is the other system's" },
] }
writing_speed = { printed = "4.85", unit = "m/s", source = "lamp-log", standing = "published" }
[[mode]]
system = "625/50"
id = "LP"
tape_speed = { printed = "11.7", unit = "mm/s", source = "memory", standing = "from memory" }
track_pitch = { unknown = "nobody looked" }
writing_speed = { printed = "4.85", unit = "m/s", source = "lamp-log", standing = "published" }
luma_bandwidth = { printed = "2.5", unit = "MHz", source = "memory", standing = "from memory" }
[[grade]]
id = "LC-60"
shell = "lamp"
label_system = "625/50"
length = { printed = "87-89", unit = "m", source = "lamp-log", standing = "published" }
thickness = { printed = "20", unit = "µm", source = "lamp-log", standing = "published" }
playing_time = [
    { mode = "625/50:SP", printed = "60", unit = "min", source = "practice", standing = "common practice" },
    { mode = "625/50:LP", printed = "120", unit = "min", source = "lamp-log", standing = "published" },
]
)";

constexpr const char* source = R"([[source]]
id = "lamp-log"
title = "log book of the lamp room, \"1981\" & <later>"
kind = "book"
seen = "read"
)";

}  // namespace

table::Table made_table() {
    table::Table table = table::load_table();
    table.formats.clear();
    table::read_documents({table::parse_document("sources.toml", source), table::parse_document("lamp.toml", file)},
                          table);
    return table;
}

const table::TapeFormat& made_format(const table::Table& table) { return table.format("lamp", "test"); }

}  // namespace guardband::support
