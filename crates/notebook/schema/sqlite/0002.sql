-- What ten years of bakes ask for: every list in its order, every entry by what it is a part of,
-- and every reference, which is looked at when what it names goes.

CREATE INDEX recipe_by_current ON recipe (current);
CREATE INDEX recipe_version_by_recipe ON recipe_version (recipe, at, id);
CREATE INDEX recipe_version_by_parent ON recipe_version (parent);
CREATE INDEX kitchen_by_current ON kitchen (current);
CREATE INDEX kitchen_version_by_kitchen ON kitchen_version (kitchen, at, id);
CREATE INDEX kitchen_version_by_parent ON kitchen_version (parent);
CREATE INDEX feed_by_culture ON feed (culture, at, id);
CREATE INDEX plan_by_ready ON plan (ready, id);
CREATE INDEX plan_by_recipe ON plan (recipe_version);
CREATE INDEX plan_by_kitchen ON plan (kitchen_version);
CREATE INDEX plan_by_culture ON plan (culture);
CREATE INDEX bake_by_began ON bake (began, id);
CREATE INDEX bake_by_recipe ON bake (recipe_version, began);
CREATE INDEX bake_by_kitchen ON bake (kitchen_version, began);
CREATE INDEX bake_by_plan ON bake (plan);
CREATE INDEX bake_by_culture ON bake (culture, began, id);
CREATE INDEX bake_underway ON bake (began, id) WHERE finished IS NULL;
CREATE INDEX did_by_bake ON did (bake, at, id);
CREATE INDEX measurement_by_bake ON measurement (bake, at, id);
CREATE INDEX measurement_by_culture ON measurement (culture, at, id) WHERE culture IS NOT NULL;
CREATE INDEX measurement_by_photo ON measurement (photo) WHERE photo IS NOT NULL;
CREATE INDEX annotation_by_bake ON annotation (bake, at, id);
CREATE INDEX annotation_by_photo ON annotation (photo) WHERE photo IS NOT NULL;
CREATE INDEX change_by_who ON change (who, revision);
CREATE INDEX change_row_by_entry ON change_row (entry, id);

CREATE INDEX photo_of_demo ON photo (id) WHERE demo = 1;
CREATE INDEX recipe_of_demo ON recipe (id) WHERE demo = 1;
CREATE INDEX recipe_version_of_demo ON recipe_version (id) WHERE demo = 1;
CREATE INDEX kitchen_of_demo ON kitchen (id) WHERE demo = 1;
CREATE INDEX kitchen_version_of_demo ON kitchen_version (id) WHERE demo = 1;
CREATE INDEX culture_of_demo ON culture (id) WHERE demo = 1;
CREATE INDEX feed_of_demo ON feed (id) WHERE demo = 1;
CREATE INDEX plan_of_demo ON plan (id) WHERE demo = 1;
CREATE INDEX bake_of_demo ON bake (id) WHERE demo = 1;
CREATE INDEX did_of_demo ON did (id) WHERE demo = 1;
CREATE INDEX measurement_of_demo ON measurement (id) WHERE demo = 1;
CREATE INDEX annotation_of_demo ON annotation (id) WHERE demo = 1;
