app_name = "ground"
urlpatterns = []
