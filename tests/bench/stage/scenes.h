#pragma once

#include <functional>
#include <string>
#include <vector>

#include "stage/stage.h"

namespace guardband::bench {

/// A scene of a kind that has deceived someone before, or might.
struct Scene {
    std::string kind;  ///< several scenes may be of one kind
    StageSettings settings;
    std::function<std::vector<Act>(const StageSettings&)> acts;
    std::string encoder = {};  ///< FFmpeg's, through which it goes; stored as it is if empty
    bool has_cadence = false;  ///< each picture stands for several fields: to be told so is no false event
};

/// All scenes, none of which has a fault. @param photographs  a folder of JPEG and PNG pictures, or empty
/// @param footage  clips to play interlaced, or empty
std::vector<Scene> clean_scenes(const std::string& photographs, const std::vector<std::string>& footage,
                                double duration_s);

/// Scenes to lose pieces of: content of several makers, some of it lively.
std::vector<Scene> loss_scenes(const std::string& photographs, const std::vector<std::string>& footage,
                               double duration_s);

}  // namespace guardband::bench
