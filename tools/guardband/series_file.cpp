#include "guardband/series_file.h"

#include <fmt/format.h>

#include <cmath>
#include <iterator>

#include "quantity/errors.h"

namespace guardband::command_line {

measure::SeriesSink SeriesFile::sink() {
    if (path_.empty()) return {};
    return [this](std::span<const double> row) { put(row); };
}

void SeriesFile::put(std::span<const double> row) {
    if (!stream_.is_open()) {
        stream_.open(path_, std::ios::binary);
        line_.clear();
        for (const std::string_view name : columns_)
            fmt::format_to(std::back_inserter(line_), "{}{}", line_.empty() ? "" : ",", name);
        stream_ << line_ << '\n';
        if (!stream_) throw quantity::InputError(path_, "can't be written", "name a file in a folder of yours");
    }
    line_.clear();
    for (std::size_t i = 0; i < row.size(); ++i) {
        if (i > 0) line_ += ',';
        if (!std::isnan(row[i])) fmt::format_to(std::back_inserter(line_), "{:.10g}", row[i]);
    }
    line_ += '\n';
    stream_ << line_;
}

void SeriesFile::finish() {
    if (!stream_.is_open()) return;
    stream_.close();
    if (!stream_) throw quantity::InputError(path_, "can't be written to its end", "see whether the disk is full");
}

}  // namespace guardband::command_line
