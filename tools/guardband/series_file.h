#pragma once

#include <fstream>
#include <span>
#include <string>
#include <string_view>

#include "measure/series.h"

namespace guardband::command_line {

/// A series as comma-separated values: a line with the columns' names, then a line a row. Nothing is written before the
/// first row, and nothing if there is no path.
class SeriesFile {
public:
    SeriesFile(std::string path, std::span<const std::string_view> columns)
        : path_(std::move(path)), columns_(columns) {}

    /// Where rows go; empty if there is no path. Stays valid as long as this.
    /// @throws InputError, from the first row on, if the file can't be written
    measure::SeriesSink sink();
    /// Closes the file. @throws InputError if not all of it could be written
    void finish();

private:
    void put(std::span<const double> row);

    std::string path_;
    std::span<const std::string_view> columns_;
    std::ofstream stream_;
    std::string line_;
};

}  // namespace guardband::command_line
