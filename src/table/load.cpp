#include "table/embedded.h"
#include "table/packed.h"
#include "table/reader.h"
#include "table/table.h"

namespace guardband::table {

Table load_table(const std::vector<std::string>& extra_folders) {
    Table table = unpack(embedded_table());
    for (const std::string& folder : extra_folders) {
        read_folder(folder, table);
        table.edition.additions.push_back(folder);
    }
    return table;
}

}  // namespace guardband::table
